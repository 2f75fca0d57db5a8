//! Healthy firings never trip: another load, other mains, another view of the sensors, a warm or a hot
//! start, other noise, on both furnaces. `saggar campaign healthy` fires ten thousand.

use saggar_studies::campaign::{CampaignKind, Sample, run};

fn assert_healthy(cases: usize) {
    let campaign =
        CampaignKind::Healthy.prepare(1, Some(cases)).expect("the schedules compile");
    let result = run(campaign.as_ref(), &Sample::whole(1), &|_, _| true);
    let wrong = |report: &_| {
        let saggar_studies::campaign::CaseReport { id, struck, findings, .. } = report;
        format!("{id}: {struck:?}: {findings:?}")
    };
    let bad: Vec<_> = result.failed().map(wrong).collect();
    assert!(result.is_clean(), "{:#?} {:#?}", bad, result.conclusions);
    assert_eq!(result.reports.len(), cases);
}

#[test]
fn healthy_firings_do_not_trip() {
    assert_healthy(28);
}
