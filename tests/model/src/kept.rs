//! What a snapshot of the core holds, field by field, in the order of its encoding.
//!
//! The core's own types keep their fields private. A field that is added, removed or moved there makes
//! [`Kept::of`] fail, because the bytes no longer come back as they were.

use saggar_core::Cause;
use saggar_core::Controller;
use saggar_core::control::TrimGains;
use saggar_core::controller::{Bookmark, SNAPSHOT_BYTES_MAX, StartError};
use saggar_core::demand::{Demand, Setpoint, Wait};
use saggar_core::events::{Channel, Ending};
use saggar_core::furnace::{Coast, FeedForward};
use saggar_core::io::{Buttons, Outputs};
use saggar_core::units::Instant;
use serde::{Deserialize, Serialize};

/// The complete state that one tick leaves to the next.
#[derive(Clone, Debug, Serialize, Deserialize)]
pub(crate) struct Kept {
    pub(crate) version: u8,
    /// CRC, position, and whether the bytes are intact.
    pub(crate) programme_guard: Option<(u32, u16, bool)>,
    pub(crate) control: Option<KeptTracker>,
    pub(crate) limit: Option<KeptTracker>,
    pub(crate) interlock: KeptInterlock,
    pub(crate) sequencer: KeptSequencer,
    pub(crate) heat: KeptHeat,
    pub(crate) vacuum: KeptVacuum,
    pub(crate) burst_carry: u32,
    pub(crate) previous: KeptTick,
    pub(crate) recovery: KeptRecovery,
    pub(crate) furnace_guard: (u8, bool),
}

#[derive(Clone, Copy, Debug, Serialize, Deserialize)]
pub(crate) struct KeptTracker {
    pub(crate) celsius: f32,
    pub(crate) rate_k_per_s: f32,
    pub(crate) missed_ticks: u16,
}

#[derive(Clone, Debug, Serialize, Deserialize)]
pub(crate) struct KeptInterlock {
    pub(crate) tripped: Option<Cause>,
    pub(crate) setpoint_max_c: f32,
    pub(crate) control_bad: u8,
    pub(crate) limit_bad: u8,
    pub(crate) open: u8,
    pub(crate) second: KeptSecond,
    pub(crate) heater: KeptHeater,
    pub(crate) channels: KeptChannels,
    pub(crate) clock: (u16, u16),
    pub(crate) contradicting: u16,
    pub(crate) current: KeptCurrent,
    pub(crate) above_setpoint: u8,
    pub(crate) vacuum: KeptVacuumWatch,
}

#[derive(Clone, Debug, Serialize, Deserialize)]
pub(crate) struct KeptSecond {
    pub(crate) tick: u8,
    pub(crate) duty_sum: f32,
    pub(crate) duty: f32,
}

#[derive(Clone, Debug, Default, Serialize, Deserialize)]
pub(crate) struct KeptHeater {
    pub(crate) expected_k_per_s: f32,
    pub(crate) window: Option<(u8, f32, f32)>,
    pub(crate) no_rise: Option<(u16, f32, f32)>,
    pub(crate) settling: u16,
    pub(crate) settled_min: Option<(f32, Option<f32>)>,
    pub(crate) uncommanded_rise: Option<Cause>,
}

#[derive(Clone, Debug, Serialize, Deserialize)]
pub(crate) struct KeptChannels {
    pub(crate) element_c: Option<f32>,
    pub(crate) asked: KeptAsked,
    pub(crate) recovering: u16,
    pub(crate) steady: u16,
    pub(crate) disagree: u16,
    pub(crate) difference: u16,
    pub(crate) terminals: u16,
    pub(crate) control: KeptCode,
    pub(crate) limit: KeptCode,
    pub(crate) frozen: Option<Channel>,
}

#[derive(Clone, Debug, Default, Serialize, Deserialize)]
pub(crate) struct KeptAsked {
    pub(crate) asked_c: Option<f32>,
    pub(crate) view_share: f32,
    pub(crate) mean_k: f32,
    pub(crate) above: u16,
}

#[derive(Clone, Debug, Default, Serialize, Deserialize)]
pub(crate) struct KeptCode {
    pub(crate) emf_nv: i32,
    pub(crate) stepped: bool,
    pub(crate) still_s: u16,
    pub(crate) other_c: Option<f32>,
    pub(crate) setpoint_c: Option<f32>,
}

#[derive(Clone, Debug, Serialize, Deserialize)]
pub(crate) struct KeptCurrent {
    pub(crate) uncommanded: u16,
    pub(crate) missing: u16,
    pub(crate) wrong: u16,
    pub(crate) window: (f32, bool, f32),
    pub(crate) suspected: Option<Cause>,
    pub(crate) weak_windows: u8,
}

#[derive(Clone, Debug, Serialize, Deserialize)]
pub(crate) struct KeptVacuumWatch {
    /// Ticks, and the sums of two means.
    pub(crate) isolation: (u8, u32, u32),
    pub(crate) pump_down: (u8, u32, bool, bool),
    pub(crate) venting: (u8, u32),
    /// Checks without an answer, checks after a fall, and the pressure that is believed.
    pub(crate) gauge: (u16, u16, u32),
}

#[derive(Clone, Debug, Serialize, Deserialize)]
pub(crate) struct KeptSequencer {
    pub(crate) state: KeptState,
    pub(crate) open: bool,
}

#[derive(Clone, Debug, Serialize, Deserialize)]
pub(crate) enum KeptState {
    Idle,
    Running(KeptFiring),
    Ended(Ending),
}

#[derive(Clone, Debug, Serialize, Deserialize)]
pub(crate) struct KeptFiring {
    pub(crate) index: u8,
    pub(crate) started: Instant,
    pub(crate) passed_ms: u32,
    pub(crate) step_started: Instant,
    pub(crate) setpoint: Option<Setpoint>,
    pub(crate) cooling: (bool, Option<(u16, f32)>),
    pub(crate) counted_ms: u32,
    pub(crate) outside_ms: u32,
    pub(crate) pump_down: KeptPumpDown,
    pub(crate) returning: Option<(i32, u32)>,
    pub(crate) open: bool,
    pub(crate) shutting: bool,
    pub(crate) closure_overdue: bool,
    pub(crate) self_test_ticks: u8,
}

#[derive(Clone, Debug, Serialize, Deserialize)]
pub(crate) struct KeptPumpDown {
    pub(crate) phase: KeptPhase,
    pub(crate) waited_ms: u32,
    pub(crate) reached_ms: u32,
    pub(crate) drawn: bool,
}

#[derive(Clone, Debug, Serialize, Deserialize)]
pub(crate) enum KeptPhase {
    Idle,
    Waiting,
    Reached,
}

#[derive(Clone, Debug, Serialize, Deserialize)]
pub(crate) struct KeptHeat {
    pub(crate) state: Option<KeptLoop>,
    pub(crate) element_c: Option<f32>,
    pub(crate) duty_sum: f32,
    pub(crate) ticks: u8,
}

#[derive(Clone, Debug, Serialize, Deserialize)]
pub(crate) struct KeptLoop {
    pub(crate) sample_s: f32,
    pub(crate) saturation: i8,
    pub(crate) integral: f32,
    pub(crate) measurement: Option<f32>,
    pub(crate) feed_forward: FeedForward,
    pub(crate) gains: TrimGains,
    pub(crate) duty_max: f32,
    pub(crate) coast: Coast,
}

#[derive(Clone, Debug, Serialize, Deserialize)]
pub(crate) struct KeptVacuum {
    pub(crate) pump: KeptPump,
    pub(crate) venting: bool,
    pub(crate) min_pa: Option<u32>,
    pub(crate) risen: u8,
    pub(crate) retried: bool,
    pub(crate) come_back: u8,
    pub(crate) reopened_pa: u32,
    pub(crate) lost: bool,
}

#[derive(Clone, Debug, Serialize, Deserialize)]
pub(crate) enum KeptPump {
    Rest,
    Starting(u8),
    Drawing,
    Stopping(u8),
    UntilAir,
}

#[derive(Clone, Debug, Serialize, Deserialize)]
pub(crate) struct KeptTick {
    pub(crate) at: Option<Instant>,
    pub(crate) buttons: Buttons,
    pub(crate) demand: Demand,
    pub(crate) outputs: Outputs,
    pub(crate) reading_c: Option<f32>,
    pub(crate) limit_c: Option<f32>,
    pub(crate) commanded: f32,
    pub(crate) start_error: Option<StartError>,
    pub(crate) contact: KeptContact,
    /// Ticks that the lift is away, and the farthest.
    pub(crate) travel: (u16, u8),
    pub(crate) wait: (Option<Wait>, u16, u8, bool),
    pub(crate) air: bool,
    /// Step, vacuum reached, hold, trip and weak heater as events have reported them.
    pub(crate) reported: (Option<u8>, bool, bool, Option<Cause>, bool),
}

#[derive(Clone, Debug, Serialize, Deserialize)]
pub(crate) struct KeptContact {
    pub(crate) proven: bool,
    pub(crate) open_ticks: u8,
    pub(crate) fired: bool,
}

#[derive(Clone, Debug, Serialize, Deserialize)]
pub(crate) struct KeptRecovery {
    pub(crate) interrupted: Option<Bookmark>,
    pub(crate) asked: bool,
    pub(crate) noted: Option<(u8, bool, Instant)>,
}

impl Kept {
    /// What this core keeps.
    ///
    /// # Panics
    /// If the fields here are not those of the core's snapshot.
    pub(crate) fn of(core: &Controller) -> Self {
        let mut buffer = [0; SNAPSHOT_BYTES_MAX];
        let length = core.save_snapshot(&mut buffer).expect("a snapshot has space");
        let bytes = &buffer[..length];
        let (kept, rest) = postcard::take_from_bytes::<Self>(bytes).expect("the core's fields");
        assert!(rest.is_empty(), "the core keeps more than the model knows");
        debug_assert_eq!(kept.bytes(), bytes, "the model reads a snapshot otherwise");
        kept
    }

    /// Its encoding.
    pub(crate) fn bytes(&self) -> Vec<u8> {
        let mut buffer = [0; SNAPSHOT_BYTES_MAX];
        postcard::to_slice(self, &mut buffer).expect("a snapshot has space").to_vec()
    }
}
