//! What becomes of orders about faults in a running stand-in, and of a device without power.

use saggar_bench::firmware::LinkedFirmware;
use saggar_bench::observer::SummaryRecorder;
use saggar_bench::trace::Trace;
use saggar_bench::{Bench, BenchError};
use saggar_core::TICK_MS;
use saggar_core::events::EventKind;
use saggar_plant::faults::{FaultEffect, FaultKind, FlashArea};
use saggar_plant::spec::FurnaceSpec;
use saggar_plant::vacuum::ValvesAtRest;

use crate::StandInError;
use crate::displayed::displayed_programme;
use crate::events::StandInEvent;
use crate::faults::{FaultNews, FaultWatch, Reach, area_name, is_there};
use crate::panel::ControlPanel;
use crate::typed::FaultOrder;

/// The observers of each firing.
pub(super) type FiringObserver = (SummaryRecorder, Trace);

/// A bench that serves clients.
type ServedBench<F> = Bench<F, ControlPanel, FiringObserver>;

/// Follows the faults of one bench.
pub(super) struct FaultDesk<'a> {
    pub(super) faults: &'a mut FaultWatch,
    /// Its furnace and its name.
    pub(super) furnace: (&'a str, &'a FurnaceSpec),
    pub(super) reach: Reach,
    /// A bit of the settings in flash has flipped.
    pub(super) settings_spoilt: bool,
}

impl FaultDesk<'_> {
    /// Reports what has come, gone and tripped, and follows what was typed.
    ///
    /// # Errors
    /// The flash cannot be stored.
    pub(super) fn after_a_tick<F: LinkedFirmware<Error = BenchError>>(
        &mut self,
        bench: &mut ServedBench<F>,
        on_event: &mut impl FnMut(StandInEvent),
    ) -> Result<(), StandInError> {
        self.follow(bench, on_event)?;
        let now_ms = bench.world().now_ms();
        let is_trip = |kind| matches!(kind, EventKind::Tripped(_));
        if bench.events().iter().any(|event| is_trip(event.kind))
            && let Some(news) = self.faults.at_trip(now_ms)
        {
            on_event(StandInEvent::Fault(now_ms as f64 / 1000.0, news));
        }
        Ok(())
    }

    /// Follows the faults and what was typed about them.
    fn follow<F: LinkedFirmware<Error = BenchError>>(
        &mut self,
        bench: &mut ServedBench<F>,
        on_event: &mut impl FnMut(StandInEvent),
    ) -> Result<(), StandInError> {
        let now_ms = bench.world().now_ms();
        let mut tell = |news| on_event(StandInEvent::Fault(now_ms as f64 / 1000.0, news));
        self.faults.update(bench.world_mut()).into_iter().for_each(&mut tell);
        for area in bench.world_mut().take_flash_faults() {
            self.settings_spoilt ^= area == FlashArea::Settings;
            if !bench.firmware.flip_flash(area)? {
                let name = area_name(area);
                tell(FaultNews::Refused(format!("there is no {name} in the flash to change")));
            }
        }
        // One a tick, because the next tick shows what has become of it.
        if let Some(order) = bench.operator.take_order(now_ms) {
            let stores = match order {
                FaultOrder::Mend(kind) => kind == FaultKind::FlashSettings,
                FaultOrder::MendAll => true,
                FaultOrder::Inject(..) | FaultOrder::List => false,
            };
            if stores && std::mem::take(&mut self.settings_spoilt) {
                // The same bit again.
                bench.firmware.flip_flash(FlashArea::Settings)?;
                tell(FaultNews::SettingsStored);
                return Ok(());
            }
            let world = bench.world_mut();
            let news = self.faults.obey(order, world, self.furnace, self.reach);
            news.into_iter().for_each(&mut tell);
        }
        Ok(())
    }

    /// Lets the furnace cool without power until the mains are back and the device has booted, or until
    /// `wait`, called after every tick, returns false.
    ///
    /// # Errors
    /// The flash cannot be stored, or `wait` fails.
    pub(super) fn without_power<F: LinkedFirmware<Error = BenchError>>(
        &mut self,
        bench: &mut ServedBench<F>,
        on_event: &mut impl FnMut(StandInEvent),
        mut wait: impl FnMut(&mut ServedBench<F>) -> Result<bool, StandInError>,
    ) -> Result<(), StandInError> {
        let off_ms = bench.world().now_ms();
        on_event(StandInEvent::Fault(off_ms as f64 / 1000.0, FaultNews::PowerCut));
        let mut failed_with: Option<String> = None;
        let mut lost_press = false;
        loop {
            bench.cut_power(f64::from(TICK_MS) / 1000.0, ValvesAtRest::default());
            let now_ms = bench.world().now_ms();
            let at_s = now_ms as f64 / 1000.0;
            self.follow(bench, on_event)?;
            if bench.operator.lose_presses(now_ms) && !std::mem::replace(&mut lost_press, true)
            {
                on_event(StandInEvent::Fault(at_s, FaultNews::PressWithoutPower));
            }
            if !is_there(bench.world(), FaultEffect::MainsCut) {
                let off_s = (now_ms - off_ms) as f64 / 1000.0;
                match bench.firmware.reboot() {
                    Ok(()) => {
                        let shown = displayed_programme(&bench.firmware);
                        let tripped = bench.firmware.status().trip;
                        let news = FaultNews::PowerBack(off_s, shown, tripped);
                        on_event(StandInEvent::Fault(at_s, news));
                        return Ok(());
                    }
                    Err(why) => {
                        let why = why.to_string();
                        if failed_with.as_ref() != Some(&why) {
                            let news = FaultNews::BootFailed(off_s, why.clone());
                            on_event(StandInEvent::Fault(at_s, news));
                        }
                        failed_with = Some(why);
                    }
                }
            }
            if !wait(bench)? {
                return Ok(());
            }
        }
    }
}
