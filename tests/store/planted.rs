//! Every planted bug is found by the campaigns listed for it, and not by those listed as masked.

use super::bugs::{BUGS, Campaign};
use super::cuts::{self, Grain};
use super::subject::{Make, Tally};
use super::{failures, flips, journal, settings, wear};

/// The copies of the store made by the build script.
#[allow(warnings, clippy::all, clippy::restriction, reason = "product code with bugs planted")]
mod copies {
    include!(concat!(env!("OUT_DIR"), "/planted.rs"));
}

/// A short run of a campaign.
fn run<S: Make>(campaign: Campaign) -> Tally {
    match campaign {
        Campaign::Cuts => cuts::campaign::<S>(Grain { bytes: 64, first: 3, second: 41 }),
        Campaign::Flips => flips::campaign::<S>(200),
        Campaign::Failures => failures::campaign::<S>(),
        Campaign::Journal => journal::campaign::<S>(3, 401),
        Campaign::Decay => journal::decay::<S>(),
        Campaign::Settings => settings::campaign::<S>(3),
        Campaign::Wear => wear::campaign::<S>(20),
    }
}

fn check<S: Make>(name: &str) {
    let bug = BUGS.iter().find(|bug| bug.name.replace(' ', "_") == name).expect("a bug");
    assert!(!(bug.seen.is_empty() && bug.masked.is_empty()), "{name}: proves nothing");
    for campaign in bug.seen {
        let tally = run::<S>(*campaign);
        println!("{name}: {campaign:?}: {} bad of {}", tally.bad, tally.cases);
        assert!(tally.bad > 0, "{name} is not seen by {campaign:?}");
    }
    for campaign in bug.masked {
        let tally = run::<S>(*campaign);
        println!("{name}: {campaign:?}: masked, {} cases", tally.cases);
        assert_eq!(tally.bad, 0, "{name} is seen by {campaign:?}: {:?}", tally.first);
    }
}

/// The same runs on the real store find nothing, so what they find elsewhere is the bug.
#[test]
fn short_runs_on_the_real_store_find_nothing() {
    for campaign in BUGS.iter().flat_map(|bug| bug.seen) {
        run::<super::subject::RealStore>(*campaign).must_be_clean(&format!("{campaign:?}"));
    }
}

macro_rules! planted {
    ($($name:ident)*) => {
        $(
            mod $name {
                struct Planted;
                $crate::store::subject::subject!(
                    Planted,
                    $crate::store::planted::copies::$name
                );

                #[test]
                fn behaves_as_listed() {
                    super::check::<Planted>(stringify!($name));
                }
            }
        )*

        #[test]
        fn every_listed_bug_is_run() {
            let run = [$(stringify!($name)),*];
            let listed: Vec<_> = BUGS.iter().map(|bug| bug.name.replace(' ', "_")).collect();
            assert_eq!(listed, run);
        }
    };
}

planted! {
    header_unchecked
    digest_unchecked_at_open
    active_overwritten
    always_the_first_slot
    no_repair
    no_erase_at_begin
    failed_commit_left
    older_taken_for_later
    sequence_stands
    damage_not_told
    cut_taken_for_damage
    boot_before_written
    entry_unchecked
    turn_erases_the_full_region
    turn_counts_from_one
    boot_not_carried_over
    torn_line_used_again
    unread_lines_forgotten
    loss_not_noticed
    loss_is_everywhere
    settings_unchecked
    header_first
    header_first_and_digest_unchecked
    settings_head_first
    settings_head_first_and_unchecked
    erase_not_checked
    write_not_read_back
    digest_unchecked_at_commit
    slot_not_looked_at
    wrong_digest_goes_in
    lost_header_not_seen
    no_repair_and_lazy_erase
    header_and_digest_unchecked
    nothing_looked_at_again
    unread_lines_forgotten_and_loss_not_noticed
}
