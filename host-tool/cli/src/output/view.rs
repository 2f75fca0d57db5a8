//! The view of `device watch`: on a terminal a few lines that are redrawn, elsewhere a line per status.

use std::io::{self, IsTerminal as _};
use std::path::Path;
use std::sync::Arc;
use std::sync::atomic::{AtomicUsize, Ordering};

use serde_json::json;
use unicode_width::{UnicodeWidthChar as _, UnicodeWidthStr as _};

use super::device::{STOP_TAKEN, figures};
use crate::commands::device::StatusReport;
use saggar_client::{RecordingStats, WatchEvent};
use saggar_device::wire::DeviceStatus;
use saggar_files::{display_path, hex, short};
use saggar_schedule::firing_plan::FiringPlan;
use saggar_terminal::DisplayOptions;
use saggar_terminal::notice;
use saggar_terminal::{Cursor, Printer, plain_stdout, stdout};
use saggar_verdict::format::{Scale, clock_with_seconds, duration};

/// The view.
#[derive(Debug)]
pub struct WatchView {
    display: DisplayOptions,
    live: bool,
    lines: usize,
    /// The schedule that the device may be running.
    plan: Option<FiringPlan>,
    /// The last status.
    last: Option<DeviceStatus>,
    /// A typed stop is an order.
    has_key: bool,
    /// Lines typed since the view was last drawn: each has moved the cursor down.
    echoed: Arc<AtomicUsize>,
}

impl WatchView {
    /// A view on standard output. `plan` names the stages, if the device runs its programme;
    /// `echoed` counts the lines that the user types below the view.
    pub fn new(
        display: &DisplayOptions,
        plan: Option<FiringPlan>,
        has_key: bool,
        echoed: Arc<AtomicUsize>,
    ) -> Self {
        let live = io::stdout().is_terminal() && display.for_terminal && !display.json;
        Self { display: *display, live, lines: 0, plan, last: None, has_key, echoed }
    }

    /// Shows an event.
    ///
    /// # Errors
    /// The output cannot be written.
    pub fn show(&mut self, seen: &WatchEvent<'_>) -> io::Result<()> {
        let (event, text) = match seen {
            WatchEvent::Status(status, channels, firing) => {
                self.report_other_programme(status)?;
                let plan = self.plan.as_ref().filter(|plan| is_programme_of(status, plan));
                let map = plan.map(|plan| &plan.map);
                return self.standing(&StatusReport::new(status, channels, firing, map));
            }
            WatchEvent::ConnectionLost(why, give_up) => {
                let give_up = duration(give_up.as_secs_f64());
                ("lost", format!("connection lost, reconnecting for up to {give_up} ({why})"))
            }
            WatchEvent::Reconnected(after) => {
                let after = duration(after.as_secs_f64().round());
                ("back", format!("reconnected after {after}; the ticks in between are lost"))
            }
            WatchEvent::Restarted(0) => ("anew", "the device has restarted".to_owned()),
            WatchEvent::Restarted(boot) => {
                ("anew", format!("the device has restarted; its log names this start boot {boot}"))
            }
            WatchEvent::StopAccepted => ("stopped", STOP_TAKEN.to_owned()),
            WatchEvent::StopFailed(why) => (
                "not stopped",
                    format!("the firing may still be running: press stop at the furnace ({why})"),
            ),
            WatchEvent::StopNotSent => (
                "not stopped",
                "the stop was NOT sent, because there is no connection: press stop at the furnace"
                .to_owned(),
            ),
            WatchEvent::StopStillWanted => (
                "not stopped",
                "the firing is still running, and your stop was not sent: press stop at the \
                 furnace, or type stop again"
                    .to_owned(),
            ),
            WatchEvent::UnknownOrder(line) => ("no order", self.unknown_order_text(line)),
        };
        self.notice_event(event, &text)
    }

    fn notice_event(&mut self, event: &str, text: &str) -> io::Result<()> {
        if self.display.json {
            let mut out = plain_stdout();
            out.json_row(&json!({ "event": event, "text": text }))?;
            return out.flush();
        }
        if self.live {
            let mut out = plain_stdout();
            self.erase(&mut out)?;
            out.flush()?;
        }
        // The next status is drawn below the notice.
        notice(text, &self.display);
        Ok(())
    }

    /// Reports once per programme of the device that it is not the one of the schedule.
    fn report_other_programme(&mut self, status: &DeviceStatus) -> io::Result<()> {
        let before = self.last.replace(*status);
        if before.is_some_and(|before| before.programme == status.programme) {
            return Ok(());
        }
        let Some(plan) = self.plan.as_ref().filter(|plan| !is_programme_of(status, plan))
        else {
            return Ok(());
        };
        let on_device = status.programme.map_or_else(
            || "the device has none".to_owned(),
            |digits| format!("the device has {}", hex(&digits)),
        );
        let text = format!(
            "{} is not the programme on the device ({} here, {on_device}): its stages and questions \
             are not shown",
            plan.source.name(),
            short(&plan.summary.digest),
        );
        self.notice_event("other programme", &text)
    }

    /// What to say of a typed line that is no order.
    fn unknown_order_text(&self, line: &str) -> String {
        if self.has_key {
            format!(
                "\"{line}\" is not an order; nothing was sent. To stop the firing: type stop and \
                 Enter"
            )
        } else {
            format!(
                "\"{line}\": nothing was sent, because watch has no key. Press stop at the furnace, \
                 or start watch with --key FILE"
            )
        }
    }

    fn standing(&mut self, standing: &StatusReport) -> io::Result<()> {
        let mut out = plain_stdout();
        if self.display.json {
            out.json_row(&json!(standing))?;
        } else if self.live {
            self.redraw(&mut out, &lines(standing, &self.display))?;
        } else {
            out.line(line(standing, self.display.scale))?;
        }
        out.flush()
    }

    /// Shows how much was recorded.
    ///
    /// # Errors
    /// The output cannot be written.
    pub fn end(&self, watched: &RecordingStats, record: Option<&Path>) -> io::Result<()> {
        let mut out = stdout(&self.display);
        if self.display.json {
            out.json_row(&json!({ "ok": true, "recorded": watched }))?;
        } else if let Some(record) = record {
            let file = display_path(record);
            let RecordingStats { ticks, lost } = watched;
            let told = format!("{file}: {ticks} ticks recorded, {lost} lost on the link");
            out.wrapped(&told, "", "  ")?;
        }
        out.flush()
    }

    /// Erases the view and the lines typed below it.
    fn erase(&mut self, out: &mut Printer<'_>) -> io::Result<()> {
        let above = self.lines + self.echoed.swap(0, Ordering::Relaxed);
        if self.lines > 0 {
            out.cursor(Cursor::Up(above))?;
            out.cursor(Cursor::LineStart)?;
            out.cursor(Cursor::EraseBelow)?;
        }
        self.lines = 0;
        Ok(())
    }

    /// Redraws the lines in place. Text being typed below them stays where it is.
    fn redraw(&mut self, out: &mut Printer<'_>, lines: &[String]) -> io::Result<()> {
        if self.echoed.load(Ordering::Relaxed) > 0 {
            self.erase(out)?;
        }
        let same = self.lines > 0 && lines.len() <= self.lines;
        if same {
            out.cursor(Cursor::Save)?;
        }
        if self.lines > 0 {
            out.cursor(Cursor::Up(self.lines))?;
        }
        let below = self.lines.saturating_sub(lines.len());
        for line in lines.iter().map(String::as_str).chain(std::iter::repeat_n("", below)) {
            out.cursor(Cursor::LineStart)?;
            out.text(line)?;
            out.cursor(Cursor::EraseRest)?;
            out.blank()?;
        }
        if same {
            out.cursor(Cursor::Restore)?;
        }
        self.lines = self.lines.max(lines.len());
        Ok(())
    }
}

/// Whether the device has this plan's programme, by the digits of its status.
fn is_programme_of(status: &DeviceStatus, plan: &FiringPlan) -> bool {
    status.programme.is_some_and(|digits| plan.image.digest().starts_with(&digits))
}

/// The line for a file or a pipe.
fn line(standing: &StatusReport, scale: Scale) -> String {
    let figures = figures(standing, scale).join(", ");
    format!("{}  {}  {figures}", clock_with_seconds(standing.at_second), standing.state)
}

/// The lines for a terminal, wrapped so that none is wider than it.
fn lines(standing: &StatusReport, display: &DisplayOptions) -> Vec<String> {
    let on_for = format!("device on for {}", clock_with_seconds(standing.at_second));
    let mut all = vec![on_for, standing.state.clone()];
    all.extend(standing.advice.map(str::to_owned));
    all.extend(figures(standing, display.scale));
    if let Some(programme) = &standing.programme {
        all.push(format!("programme {programme}"));
    }
    // Some terminals wrap when the last column is written.
    let columns = display.width.saturating_sub(1);
    let wrapped = all.iter().flat_map(|line| saggar_terminal::lines(line, columns));
    // A word alone may still be too wide.
    wrapped.map(|line| cut(&line, columns)).collect()
}

fn cut(line: &str, columns: usize) -> String {
    if line.width() <= columns {
        return line.to_owned();
    }
    let mut used = 0;
    let mut text = String::new();
    for c in line.chars() {
        used += c.width().unwrap_or(0);
        if used >= columns {
            break;
        }
        text.push(c);
    }
    text + "…"
}

#[cfg(test)]
mod tests {
    use saggar_core::Cause;
    use saggar_device::wire::DeviceStatus;

    use super::*;
    use crate::commands::device::StepReport;
    use saggar_client::{Channels, FiringTracker};

    fn standing() -> StatusReport {
        let status = DeviceStatus {
            at_ms: 3_723_000,
            programme: Some([0x96, 0x78, 0x14, 0xdf]),
            step: Some(11),
            setpoint_mc: Some(1_120_000),
            reading_mc: Some(1_119_640),
            pressure_pa: Some(5_000),
            cycles: 3,
            cycles_per_tick: 5,
            tripped: Some(Cause::HeaterWithoutEffect),
            ..DeviceStatus::default()
        };
        StatusReport::new(&status, &Channels::default(), &FiringTracker::default(), None)
    }

    #[test]
    fn no_line_is_wider_than_the_terminal() {
        for width in [20, 30, 40, 80] {
            let lines = lines(&standing(), &DisplayOptions::plain_terminal(width));
            assert!(lines.iter().all(|line| line.width() < width), "{lines:?}");
            assert!(lines.join(" ").starts_with("device on for 1:02:03"), "{lines:?}");
            let advice = Cause::HeaterWithoutEffect.advice();
            assert!(lines.join(" ").contains(advice), "{lines:?}");
        }
    }

    #[test]
    fn a_narrow_hold_shows_the_deadline_and_the_outcome_of_no_answer() {
        let hold = StepReport {
            step_count: Some(7),
            stage: None,
            step_second: Some(1),
            step_left_second: Some(299),
            step_left_at_least: false,
            firing_second: Some(181),
            question: Some("Is the coat dry, and does it cover the whole coping?".to_owned()),
            continue_on_timeout: Some(false),
        };
        let standing = StatusReport { progress: Some(hold), ..standing() };
        for width in [30, 40, 80] {
            let lines = lines(&standing, &DisplayOptions::plain_terminal(width));
            assert!(lines.iter().all(|line| line.width() < width), "{lines:?}");
            let text = lines.join(" ");
            for whole in [
                "no answer within 0:04:59: the firing ends",
                "to answer: press confirm at the furnace",
                "does it cover the whole coping?",
            ] {
                assert!(text.contains(whole), "{width}: {lines:?}");
            }
        }
    }

    #[test]
    fn a_redraw_covers_what_stood_there() {
        let mut view = WatchView {
            display: DisplayOptions::plain_terminal(40),
            live: true,
            lines: 0,
            plan: None,
            last: None,
            has_key: true,
            echoed: Arc::default(),
        };
        let mut buffer = Vec::new();
        let mut out = Printer::into(&mut buffer, 40);
        view.redraw(&mut out, &["a".to_owned(), "b".to_owned()]).unwrap();
        view.redraw(&mut out, &["c".to_owned()]).unwrap();
        drop(out);
        let text = String::from_utf8(buffer).unwrap();
        assert_eq!(text, "\ra\x1b[K\n\rb\x1b[K\n\x1b7\x1b[2A\rc\x1b[K\n\r\x1b[K\n\x1b8");
    }

    #[test]
    fn a_line_typed_below_the_view_leaves_nothing_of_it_above() {
        let mut view = WatchView {
            display: DisplayOptions::plain_terminal(40),
            live: true,
            lines: 2,
            plan: None,
            last: None,
            has_key: true,
            echoed: Arc::new(AtomicUsize::new(1)),
        };
        let mut buffer = Vec::new();
        let mut out = Printer::into(&mut buffer, 40);
        view.redraw(&mut out, &["a".to_owned()]).unwrap();
        view.redraw(&mut out, &["b".to_owned()]).unwrap();
        drop(out);
        let text = String::from_utf8(buffer).unwrap();
        assert_eq!(text, "\x1b[3A\r\x1b[J\ra\x1b[K\n\x1b7\x1b[1A\rb\x1b[K\n\x1b8");
    }

    #[test]
    fn one_line_says_it_all() {
        assert_eq!(
            line(&standing(), Scale::Celsius),
            "1:02:03  tripped: heater without effect  control: 1119.6 °C, setpoint 1120 °C, duty 60 %, \
             50 hPa"
        );
    }
}
