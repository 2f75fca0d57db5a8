//! What a device's status and log say, in words. `watch`, `device log` and the stand-in share them.

use saggar_core::events::EventKind;
use saggar_core::programme::{Action, ProgrammeImage};
use saggar_core::sequencer::Ending;
use saggar_device::wire::{LogEntry, LogEvent};

use saggar_files::{hex, sanitized};
use saggar_report::{ending_phrase, plain_event_phrase};
use saggar_schedule::schedule::StageMap;
use saggar_verdict::format::clock_with_seconds;

/// Longest question that is printed (characters).
const QUESTION_CHARS_MAX: usize = 200;

/// A step by its number and, as far as they are known, the number of steps and its stage:
/// `step 3 of 7 (stage 2 "infiltrate")`.
pub fn step_phrase(index: u8, count: Option<u8>, map: Option<&StageMap>) -> String {
    let of = count.map_or_else(String::new, |count| format!(" of {count}"));
    let stage = map.and_then(|map| map.origin(index));
    let stage = stage.map_or_else(String::new, |stage| format!(" ({})", stage.phrase()));
    format!("step {}{of}{stage}", u16::from(index) + 1)
}

/// The question of a hold, if the schedule is known and has one.
pub fn question(index: u8, map: Option<&StageMap>) -> Option<String> {
    let question = map?.origin(index)?.stage.question.as_ref()?;
    Some(sanitized(question, QUESTION_CHARS_MAX))
}

/// What happens to a firing whose hold is not answered.
pub const fn on_timeout_phrase(continues: bool) -> &'static str {
    if continues { "the firing goes on" } else { "the firing ends" }
}

/// How a firing ended. `stop_ordered`: a client ordered the stop.
pub fn ending(ending: Ending, stop_ordered: bool) -> String {
    match ending {
        Ending::Stopped if stop_ordered => {
            "stopped over the link, by a client with the device's key".to_owned()
        }
        Ending::Stopped => "stopped at the furnace".to_owned(),
        Ending::Completed
        | Ending::Tripped(_)
        | Ending::Unanswered
        | Ending::BandLost
        | Ending::TooLong => ending_phrase(ending).into_owned(),
    }
}

/// Words for the entries of a log, in their order: what an entry means depends on those before it.
#[derive(Debug, Default)]
pub struct LogPhrases {
    /// The hold that waits for an answer: when it began (s), and its timeout (s) if it is known.
    hold: Option<(u32, Option<u32>)>,
    step: Option<u8>,
    stop_ordered: bool,
}

impl LogPhrases {
    /// The next entry. `image` and `map` are its programme and schedule, if they are known.
    pub fn phrase(
        &mut self,
        entry: &LogEntry,
        image: Option<&ProgrammeImage>,
        map: Option<&StageMap>,
    ) -> String {
        match entry.event {
            LogEvent::Core(kind) => self.core_event(kind, entry.at_s, image, map),
            LogEvent::Booted => {
                *self = Self::default();
                "the device started".to_owned()
            }
            LogEvent::Programme(digits) => format!("programme {} became active", hex(&digits)),
            LogEvent::Confirmed(_) => "the programme was confirmed at the furnace".to_owned(),
            LogEvent::StopRequested => {
                self.stop_ordered = true;
                "a client with the device's key ordered a stop".to_owned()
            }
            LogEvent::LegacyLockOut => "locked out: too many wrong seals".to_owned(),
            LogEvent::EntriesLost(count) => format!("{count} entries of the log were lost"),
            LogEvent::FiringPosition { step: u8::MAX, .. } => {
                "no bookmarks of this firing follow: the log is full".to_owned()
            }
            LogEvent::FiringPosition { step, gathered_s } => {
                format!("bookmark: step {}, {gathered_s} s gathered", u16::from(step) + 1)
            }
            LogEvent::FiringState { reading_c, .. } => format!("bookmark: {reading_c} °C"),
            LogEvent::LockOuts(1) => "locked out once: too many wrong seals".to_owned(),
            LogEvent::LockOuts(times) => {
                format!("locked out {times} times: too many wrong seals")
            }
        }
    }

    fn core_event(
        &mut self,
        kind: EventKind,
        at_s: u32,
        image: Option<&ProgrammeImage>,
        map: Option<&StageMap>,
    ) -> String {
        match kind {
            EventKind::FiringStarted => {
                *self = Self::default();
                "the firing was started".to_owned()
            }
            EventKind::StepStarted(index) => {
                let answer = self.answer(at_s);
                self.step = Some(index);
                let count = image.and_then(|image| u8::try_from(image.steps().count()).ok());
                format!("{answer}{} began", step_phrase(index, count, map))
            }
            EventKind::VacuumReached => "the vacuum was reached".to_owned(),
            EventKind::HoldStarted => self.hold_started(at_s, image, map),
            EventKind::FiringEnded(how) => {
                let was_answered = how == Ending::Completed;
                let answer = self.answer(at_s);
                let answer = if was_answered { answer } else { String::new() };
                format!("{answer}the firing ended: {}", ending(how, self.stop_ordered))
            }
            EventKind::Tripped(cause) => {
                format!("tripped, heat off: {}. {}", cause.name(), cause.advice())
            }
            EventKind::TripAccepted => "the trip was accepted with confirm".to_owned(),
            EventKind::FiringResumed(index) => {
                let count = image.and_then(|image| u8::try_from(image.steps().count()).ok());
                format!("the firing went on in {}", step_phrase(index, count, map))
            }
            EventKind::ChannelFailed(_)
            | EventKind::WaitIsLong(_)
            | EventKind::HeaterWeak
            | EventKind::ContactChecked
            | EventKind::FiringDiscarded => plain_event_phrase(kind).unwrap_or_default(),
        }
    }

    fn hold_started(
        &mut self,
        at_s: u32,
        image: Option<&ProgrammeImage>,
        map: Option<&StageMap>,
    ) -> String {
        let index = self.step.unwrap_or(0);
        let action = image.and_then(|image| image.steps().nth(usize::from(index)));
        let hold = match action.map(|step| step.action) {
            Some(Action::Hold { timeout_ms, continue_on_timeout }) => {
                Some((timeout_ms / 1000, continue_on_timeout))
            }
            Some(_) | None => None,
        };
        self.hold = Some((at_s, hold.map(|(timeout_s, _)| timeout_s)));
        let asked = question(index, map).map_or_else(
            || "waits for an answer".to_owned(),
            |question| format!("asks the operator: \"{question}\""),
        );
        let timeout = hold.map_or_else(String::new, |(timeout_s, continues)| {
            let timeout = clock_with_seconds(timeout_s.into());
            let outcome = on_timeout_phrase(continues);
            format!(". Without an answer within {timeout} {outcome}")
        });
        format!("step {} {asked}{timeout}", u16::from(index) + 1)
    }

    /// How the last hold ended, in front of what followed it. The log counts whole seconds: an
    /// answer in the last one counts as none.
    fn answer(&mut self, at_s: u32) -> String {
        let Some((since_s, timeout_s)) = self.hold.take() else { return String::new() };
        let waited_s = at_s.saturating_sub(since_s);
        let waited = clock_with_seconds(waited_s.into());
        match timeout_s {
            Some(timeout_s) if waited_s >= timeout_s => {
                format!("nobody answered within {waited}; ")
            }
            Some(_) => format!("answered after {waited}; "),
            None => format!("after a wait of {waited} for an answer, "),
        }
    }
}

#[cfg(test)]
mod tests {
    use saggar_core::programme::{Programme, Step};

    use super::*;

    fn image() -> ProgrammeImage {
        let hold = Action::Hold { timeout_ms: 600_000, continue_on_timeout: true };
        let cool = Action::Cool { below_mc: 50_000 };
        let step = |action| Step::new(action, None);
        let mut programme = Programme::new("a hold").expect("a short name");
        programme.steps.extend([step(hold), step(cool)]);
        ProgrammeImage::encode(&programme).unwrap()
    }

    fn phrases(image: Option<&ProgrammeImage>, log: &[(u32, LogEvent)]) -> Vec<String> {
        let mut phrases = LogPhrases::default();
        let entry = |at_s, event| LogEntry { number: 0, boot: 1, at_s, event };
        log.iter()
            .map(|(at_s, event)| phrases.phrase(&entry(*at_s, *event), image, None))
            .collect()
    }

    #[test]
    fn an_answered_hold_reads_differently_from_an_unanswered_one() {
        let firing = |next_s| {
            [
                (0, LogEvent::Core(EventKind::FiringStarted)),
                (0, LogEvent::Core(EventKind::StepStarted(0))),
                (5, LogEvent::Core(EventKind::HoldStarted)),
                (next_s, LogEvent::Core(EventKind::StepStarted(1))),
            ]
        };
        let image = image();
        let asked = phrases(Some(&image), &firing(65));
        assert_eq!(
            asked[2],
            "step 1 waits for an answer. Without an answer within 0:10:00 the firing goes on"
        );
        assert_eq!(asked[3], "answered after 0:01:00; step 2 of 2 began");
        let silent = phrases(Some(&image), &firing(605));
        assert_eq!(silent[3], "nobody answered within 0:10:00; step 2 of 2 began");
        let unknown = phrases(None, &firing(605));
        assert_eq!(unknown[3], "after a wait of 0:10:00 for an answer, step 2 began");
    }

    #[test]
    fn a_stop_says_whether_it_came_over_the_link() {
        let stopped = LogEvent::Core(EventKind::FiringEnded(Ending::Stopped));
        let ordered = phrases(None, &[(1, LogEvent::StopRequested), (1, stopped)]);
        assert!(ordered[1].contains("stopped over the link, by a client"), "{ordered:?}");
        let pressed = phrases(None, &[(1, stopped)]);
        assert_eq!(pressed[0], "the firing ended: stopped at the furnace");
    }
}
