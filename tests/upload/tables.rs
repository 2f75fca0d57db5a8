//! The tables of docs/wire.md against the code: variants with their index and fields, structures
//! with the order of their fields, and the bits of a tick.

use core::fmt::Debug;

use saggar_core::controller::{Bookmark, StartError};
use saggar_core::events::{Channel, EventKind, Wait};
use saggar_core::furnace::FurnaceError;
use saggar_core::io::{Buttons, ClosureContacts, ThermocoupleSample};
use saggar_core::programme::{
    Action, AfterCut, ImageError, Programme, Step, VacuumStage, Violation, ViolationKind,
};
use saggar_core::sensors::ThermocoupleType;
use saggar_core::sequencer::Ending;
use saggar_core::{Cause, Inputs, Outputs};
use saggar_device::wire::{
    Answer, Chunk, DeviceStatus, Hello, LogEntry, LogEvent, Notice, Origin, Query, Refusal,
    Subscription, Tick,
};
use serde::{Deserialize, Serialize};

use super::messages::one_of_each_order;
use super::page::PAGE;
use super::support::settings;

/// The cells of the table below a heading of the page.
fn table(heading: &str) -> Vec<Vec<String>> {
    let marker = format!("\n### {heading}\n");
    let (_, section) = PAGE.split_once(&marker).expect(heading);
    let section = section.split("\n#").next().expect("text");
    let rows = section.lines().skip_while(|line| !line.starts_with("| ---")).skip(1);
    let rows = rows.take_while(|line| line.starts_with('|'));
    let cells = |line: &str| {
        line.trim_matches('|').split('|').map(|cell| cell.trim().to_owned()).collect()
    };
    rows.map(cells).collect()
}

/// The names in backticks in a cell.
fn names(cell: &str) -> Vec<&str> {
    cell.split('`').skip(1).step_by(2).collect()
}

/// The name of a value's variant, and its named fields in order, from its debug output.
fn variant_and_fields(value: &impl Debug) -> (String, Vec<String>) {
    let text = format!("{value:#?}");
    let name = text.chars().take_while(char::is_ascii_alphanumeric).collect();
    let field = |line: &str| {
        let (name, _) = line.strip_prefix("    ")?.split_once(": ")?;
        name.chars()
            .all(|c| c.is_ascii_lowercase() || c.is_ascii_digit() || c == '_')
            .then(|| name.to_owned())
    };
    (name, text.lines().filter_map(field).collect())
}

/// One value of each variant, in order: index, name and fields are those of the page, and there is
/// no further variant.
fn check_enum<'a, T>(heading: &str, values: &[T], field_column: Option<usize>)
where
    T: Debug + Serialize + Deserialize<'a>,
{
    let rows = table(heading);
    assert_eq!(rows.len(), values.len(), "{heading}: rows of the page");
    for (index, (row, value)) in rows.iter().zip(values).enumerate() {
        let mut buffer = [0; 400];
        let bytes = postcard::to_slice(value, &mut buffer).expect("encodes");
        let (name, fields) = variant_and_fields(value);
        assert_eq!((row[0].as_str(), usize::from(bytes[0])), (&*index.to_string(), index));
        assert_eq!(row[1], name, "{heading}, index {index}");
        let named = field_column.map_or(Vec::new(), |column| names(&row[column]));
        assert_eq!(named, fields, "{heading}, {name}: fields");
    }
    let next: &[u8] = vec![u8::try_from(values.len()).expect("few"); 400].leak();
    assert!(postcard::take_from_bytes::<T>(next).is_err(), "{heading}: one more variant");
}

fn check_struct(heading: &str, value: &impl Debug) {
    let (_, fields) = variant_and_fields(value);
    let rows = table(heading);
    let named: Vec<_> = rows.iter().flat_map(|row| names(&row[0])).collect();
    assert_eq!(named, fields, "{heading}");
}

const CHUNK: Chunk<'_> = Chunk { offset: 0, total: 0, data: &[] };
const ORIGIN: Origin<'_> = Origin { number: 0, programme: None, memory: &[] };
const VIOLATION: Violation = Violation { step: None, kind: ViolationKind::NoSteps };

#[test]
fn variants_of_queries_and_orders_are_those_of_the_page() {
    let queries = [
        Query::Hello { nonce: [0; 16] },
        Query::Status,
        Query::Subscribe(Subscription::default()),
        Query::Log { from: 0 },
        Query::Programme { offset: 0 },
        Query::Furnace { offset: 0 },
    ];
    check_enum("Query", &queries, Some(2));
    check_enum("Order", &one_of_each_order(), Some(2));
}

#[test]
fn variants_of_notices_and_answers_are_those_of_the_page() {
    let notices = [
        Notice::Hello(Hello::default()),
        Notice::Status(DeviceStatus::default()),
        Notice::Origin(ORIGIN),
        Notice::Tick(Tick::default()),
        Notice::Log { next: 0, entries: heapless::Vec::new() },
        Notice::Programme(CHUNK),
        Notice::Furnace(CHUNK),
        Notice::Refused(Refusal::NoKey),
    ];
    check_enum("Notice", &notices, Some(2));
    let answers = [
        Answer::Begun,
        Answer::Staged { bytes: 0 },
        Answer::Committed { digest: [0; 32] },
        Answer::Stopping,
        Answer::Expected { sequence: 0 },
        Answer::Refused(Refusal::NoKey),
        Answer::Drawn { number: None },
        Answer::Agreed,
    ];
    check_enum("Answer", &answers, Some(2));
}

#[test]
fn variants_of_the_log_are_those_of_the_page() {
    let log = [
        LogEvent::Booted,
        LogEvent::Core(EventKind::FiringStarted),
        LogEvent::Programme([0; 4]),
        LogEvent::StopRequested,
        LogEvent::LegacyLockOut,
        LogEvent::EntriesLost(0),
        LogEvent::LockOuts(0),
        LogEvent::Confirmed([0; 4]),
        LogEvent::FiringPosition { step: 0, gathered_s: 0 },
        LogEvent::FiringState { reading_c: 0, flags: 0 },
    ];
    check_enum("LogEvent", &log, Some(2));
    let events = [
        EventKind::FiringStarted,
        EventKind::StepStarted(0),
        EventKind::VacuumReached,
        EventKind::HoldStarted,
        EventKind::FiringEnded(Ending::Completed),
        EventKind::Tripped(Cause::SensorOpen),
        EventKind::TripAccepted,
        EventKind::ChannelFailed(Channel::Control),
        EventKind::WaitIsLong(Wait::Vacuum),
        EventKind::HeaterWeak,
        EventKind::ContactChecked,
        EventKind::FiringResumed(0),
        EventKind::FiringDiscarded,
    ];
    check_enum("Core event", &events, Some(2));
    let endings = [
        Ending::Completed,
        Ending::Stopped,
        Ending::Tripped(Cause::SensorOpen),
        Ending::Unanswered,
        Ending::BandLost,
        Ending::TooLong,
    ];
    check_enum("Ending", &endings, Some(2));
    check_enum("Cause", &Cause::ALL, None);
    check_enum("Channel", &[Channel::Control, Channel::Limit], None);
    check_enum(
        "Wait",
        &[Wait::Vacuum, Wait::Band, Wait::Air, Wait::Contacts, Wait::Cooling],
        None,
    );
    check_struct("Bookmark", &Bookmark::default());
    let starts = [
        StartError::NoProgramme,
        StartError::NoReading,
        StartError::Tripped(Cause::SensorOpen),
        StartError::TooHot,
        StartError::ChannelsDifferCold,
        StartError::TerminalsDiffer,
        StartError::ContactUnproven,
        StartError::NoAirInChamber,
        StartError::DataChanged,
        StartError::AskTwice,
        StartError::FiringOver,
    ];
    check_enum("StartError", &starts, Some(2));
}

#[test]
fn variants_of_refusals_are_those_of_the_page() {
    let refusals = [
        Refusal::OtherProtocol(0),
        Refusal::Unreadable,
        Refusal::NoKey,
        Refusal::NoBootCounter,
        Refusal::NoSession,
        Refusal::WrongSeal,
        Refusal::LockedOut(0),
        Refusal::FiringRunning,
        Refusal::BadSize(0),
        Refusal::OtherFurnace,
        Refusal::OutOfOrder,
        Refusal::BadProgramme(ImageError::TooLong),
        Refusal::UnfitFurnace(FurnaceError::ControlSensor),
        Refusal::Forbidden { first: VIOLATION, count: 0 },
        Refusal::FlashFailed,
        Refusal::FiringInterrupted,
    ];
    check_enum("Refusal", &refusals, Some(2));
    let images = [
        ImageError::TooLong,
        ImageError::BadHeader,
        ImageError::UnsupportedVersion(0),
        ImageError::TooManySteps(0),
        ImageError::BadStep(0),
        ImageError::TrailingBytes,
        ImageError::DigestMismatch,
    ];
    check_enum("ImageError", &images, Some(2));
    let furnaces = [
        FurnaceError::ControlSensor,
        FurnaceError::Limits,
        FurnaceError::Heater,
        FurnaceError::FeedForward,
        FurnaceError::Gains,
    ];
    check_enum("FurnaceError", &furnaces, None);
    let violations = [
        ViolationKind::NoSteps,
        ViolationKind::TooLong { seconds: 0, max_s: 0 },
        ViolationKind::TooHot { to_mc: 0, max_mc: 0 },
        ViolationKind::TooCold { to_mc: 0 },
        ViolationKind::ZeroRate,
        ViolationKind::TooFast { rate_mk_per_min: 0, max_mk_per_min: 0 },
        ViolationKind::NoSetpoint,
        ViolationKind::BadBand { band_mk: 0 },
        ViolationKind::ZeroDuration,
        ViolationKind::NoPump,
        ViolationKind::BadPressure { to_pa: 0, min_pa: 0 },
        ViolationKind::PumpNeverStarts { from_mc: 0, setpoint_max_mc: 0 },
        ViolationKind::OpenUnderVacuum,
        ViolationKind::HeatWhileOpen,
    ];
    check_enum("Violation", &violations, Some(2));
}

#[test]
fn fields_of_structures_are_those_of_the_page() {
    check_struct("Subscription", &Subscription::default());
    check_struct("Hello", &Hello::default());
    check_struct("DeviceStatus", &DeviceStatus::default());
    check_struct("Origin", &ORIGIN);
    check_struct("Tick", &Tick::default());
    check_struct("Chunk", &CHUNK);
    check_struct(
        "LogEntry",
        &LogEntry { number: 0, boot: 0, at_s: 0, event: LogEvent::Booted },
    );
    let tick = format!("{:?}", Tick::default());
    let channel = "ChannelSample { emf_nv: 0, cold_junction_mc: 0, age_ms: 0 }";
    assert!(tick.contains(channel), "{tick}");
    let rows = table("ChannelSample");
    let named: Vec<_> = rows.iter().flat_map(|row| names(&row[0])).collect();
    assert_eq!(named, ["emf_nv", "cold_junction_mc", "age_ms"]);
}

#[test]
fn programme_and_furnace_data_are_those_of_the_page() {
    let stage = VacuumStage { from_mc: 0, to_pa: 0, within_ms: 0 };
    let actions = [
        Action::Ramp { to_mc: 0, rate_mk_per_min: 0 },
        Action::Soak { duration_ms: 0, band_mk: 0, band_timeout_ms: 0 },
        Action::Cool { below_mc: 0 },
        Action::MoveClosure { open: false, dwell_ms: 0 },
        Action::Hold { timeout_ms: 0, continue_on_timeout: false },
    ];
    check_enum("Action", &actions, Some(2));
    check_struct("Programme", &Programme::new("").expect("short"));
    check_struct("Step", &Step::new(actions[0], Some(stage)));
    check_enum("AfterCut", &[AfterCut::GoOn, AfterCut::End], None);
    check_struct("VacuumStage", &stage);
    let furnace = settings().furnace;
    check_struct("Furnace data", &furnace);
    check_struct("SensorData", &furnace.control_sensor);
    check_struct("Limits", &furnace.limits);
    check_struct("Heater", &furnace.heater);
    check_struct("StoredHeat", &furnace.heater.stored_heat);
    check_struct("FeedForward", &furnace.heater.feed_forward[0]);
    check_struct("Gains", &furnace.gains[0]);
    let sensors = ThermocoupleType::ALL.map(|sensor| {
        let mut byte = [0];
        postcard::to_slice(&sensor, &mut byte).expect("one byte");
        format!("{} {}", byte[0], sensor.letter())
    });
    let row = &table("SensorData")[0];
    assert_eq!(row[2], format!("thermocouple type: {}", sensors.join(", ")));
}

/// Each flag of inputs and outputs, set alone, is the bit that the page says.
#[test]
fn bits_of_a_tick_are_those_of_the_page() {
    let bits = table("Bits of a tick");
    let sample = Some(ThermocoupleSample::default());
    let open = Some(ThermocoupleSample { open: true, ..Default::default() });
    let contacts = |shut, open| ClosureContacts { shut, open };
    let press = |start, stop, confirm| Buttons { start, stop, confirm };
    let i = Inputs::default();
    let inputs = [
        ("control channel answered", 1, Inputs { control: sample, ..i }),
        ("control circuit is open", 3, Inputs { control: open, ..i }),
        ("limit channel answered", 4, Inputs { limit: sample, ..i }),
        ("limit circuit is open", 12, Inputs { limit: open, ..i }),
        ("pressure gauge answered", 16, Inputs { pressure_pa: Some(0), ..i }),
        ("contact \"shut\" closed", 32, Inputs { closure: contacts(true, false), ..i }),
        ("contact \"open\" closed", 64, Inputs { closure: contacts(false, true), ..i }),
        ("contactor's auxiliary contact closed", 128, Inputs { contactor_closed: true, ..i }),
        ("current sensor answered", 256, Inputs { heater_current_ma: Some(0), ..i }),
        ("start", 512, Inputs { buttons: press(true, false, false), ..i }),
        ("stop", 1024, Inputs { buttons: press(false, true, false), ..i }),
        ("confirm", 2048, Inputs { buttons: press(false, false, true), ..i }),
    ];
    for (bit, (what, expected, inputs)) in inputs.iter().enumerate() {
        let tick = format!("{:?}", Tick::new(0, 0, inputs, &Outputs::default()));
        assert!(tick.contains(&format!("input_bits: {expected},")), "{what}: {tick}");
        assert_eq!(bits[bit][..2], [bit.to_string(), (*what).to_owned()]);
    }
    let o = Outputs::default();
    let outputs = [
        ("contactor", Outputs { contactor: true, ..o }),
        ("pump", Outputs { pump: true, ..o }),
        ("isolation valve", Outputs { isolation_valve: true, ..o }),
        ("vent valve", Outputs { vent_valve: true, ..o }),
        ("closure to open", Outputs { open_closure: true, ..o }),
        ("lamp", Outputs { lamp: true, ..o }),
        ("buzzer", Outputs { buzzer: true, ..o }),
    ];
    for (bit, (what, outputs)) in (8..).zip(outputs) {
        let outputs = Outputs { heater_cycles: 0b101, ..outputs };
        let tick = format!("{:?}", Tick::new(0, 0, &i, &outputs));
        let expected = 0b101 | 1u16 << bit;
        assert!(tick.contains(&format!("output_bits: {expected} ")), "{what}: {tick}");
        assert_eq!(bits[bit][2], what);
    }
}
