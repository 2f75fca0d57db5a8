//! A few cases of each campaign.

use super::{CampaignKind, CaseEnd, CaseReport};

/// Fires a case by its id.
fn fire(kind: CampaignKind, id: &str) -> CaseReport {
    let (campaign, case) = kind.case(id, 1).unwrap_or_else(|why| panic!("{why}"));
    assert_eq!(campaign.id(case), id);
    campaign.fire(case)
}

#[test]
fn after_a_cut_in_a_tick_nothing_happens_by_itself() {
    for id in ["infiltrate-alumina/tick=3", "infiltrate-alumina/tick=60001"] {
        let report = fire(CampaignKind::Cuts, id);
        assert_eq!((report.end, report.findings), (CaseEnd::Waits, Vec::new()), "{id}");
    }
}

#[test]
fn after_a_cut_at_a_minute_the_firing_goes_on_only_with_an_operator() {
    let with = fire(CampaignKind::Cuts, "infiltrate-alumina/minute=100/60s/going-on");
    assert_eq!((with.end, with.findings), (CaseEnd::Completed, Vec::new()));
    let alone = fire(CampaignKind::Cuts, "infiltrate-alumina/minute=100/60s/alone");
    assert_eq!((alone.end, alone.findings), (CaseEnd::Waits, Vec::new()));
}

#[test]
fn a_cut_in_every_tick_and_at_every_minute_is_a_case() {
    let campaign = CampaignKind::Cuts.prepare(1, None).expect("a healthy firing");
    assert!(campaign.cases() > 100_000, "{}", campaign.cases());
    let last = campaign.cases() - 1;
    assert!(campaign.id(0).ends_with("/tick=1") && campaign.id(last).ends_with("/3600s/alone"));
}

/// Both switches of the heater have failed closed: the alarm is raised, and the rest is the cut-out's.
#[test]
fn a_pair_that_only_hardware_can_cut_is_excused_and_no_other() {
    let report = fire(CampaignKind::Doubles, "opens-hot/contactor-welded+switch-stuck/6");
    assert!(matches!(report.end, CaseEnd::Tripped(_)), "{report:?}");
    assert_eq!(report.findings, Vec::<String>::new());
    assert!(report.notes.iter().any(|note| note.contains("cut-out")), "{report:?}");
    let other = fire(CampaignKind::Doubles, "opens-hot/contactor-welded+pump-dead/6");
    assert_eq!((other.findings, other.notes), (Vec::new(), Vec::new()));
}

#[test]
fn healthy_firings_are_drawn_from_their_seed() {
    let (one, again) = ("seed=10000001", "seed=10000001");
    let one = fire(CampaignKind::Healthy, one);
    assert_eq!(one.findings, Vec::<String>::new());
    assert_eq!(one.struck, fire(CampaignKind::Healthy, again).struck);
    assert_ne!(one.struck, fire(CampaignKind::Healthy, "seed=10000002").struck);
}

/// The first is fired twice, and its traces compared.
#[test]
fn seeds_draw_faults_and_go_the_same_way_again() {
    for id in ["seed=10000000", "seed=10000003"] {
        let (one, again) = (fire(CampaignKind::Seeds, id), fire(CampaignKind::Seeds, id));
        assert_eq!((&one.struck, one.end), (&again.struck, again.end));
        assert_eq!(one.findings, Vec::<String>::new(), "{one:?}");
    }
    let campaign = CampaignKind::Seeds.prepare(1, Some(40)).expect("the schedules compile");
    assert_eq!((campaign.cases(), campaign.id(39).as_str()), (40, "seed=10000039"));
    assert_eq!(campaign.find("seed=10000039"), Some(39));
    assert_eq!(campaign.find("seed=10000040"), None);
}

#[test]
fn the_page_has_a_place_for_every_table() {
    let page = include_str!("../../../../docs/campaign.md");
    for kind in CampaignKind::ALL {
        super::with_table(page, kind, "").unwrap_or_else(|why| panic!("{why}"));
    }
}
