//! The faults in a stand-in: which are there since when, what an order changes, and which were there in a
//! firing.

use saggar_bench::World;
use saggar_core::TICK_MS;
use saggar_core::interlock::Cause;
use saggar_plant::faults::{Fault, FaultEffect, FaultKind, FlashArea, Severity};
use saggar_plant::spec::FurnaceSpec;
use saggar_verdict::format::{clock_with_seconds, duration};

use crate::displayed::DisplayedProgramme;
use crate::typed::{FaultOrder, happens_once};

/// News of the faults in a stand-in.
#[derive(Clone, Debug)]
pub enum FaultNews {
    /// This fault has struck.
    Struck(Fault),
    /// It is gone, after this time (s).
    Mended(Fault, f64),
    /// It was planned for later, and will not come.
    Forgotten(FaultKind),
    /// An order was refused for this reason.
    Refused(String),
    /// The faults that are there, each with the time since the stand-in started at which it struck (s).
    Listed(Vec<(Fault, f64)>),
    /// An interlock tripped while these faults were there, each for this time (s).
    TrippedDuring(Vec<(Fault, f64)>),
    /// The mains are cut: the device is off.
    PowerCut,
    /// The mains are back after this time (s), and the device has booted: it shows this programme and
    /// latched cause.
    PowerBack(f64, Option<DisplayedProgramme>, Option<Cause>),
    /// The mains are back after this time (s), and the device does not boot for this reason.
    BootFailed(f64, String),
    /// A button was pressed while the device was off.
    PressWithoutPower,
    /// The settings, in which a bit had flipped, were stored again.
    SettingsStored,
}

/// What a stand-in can let happen to its firmware.
#[derive(Clone, Copy, Debug)]
pub(super) struct Reach {
    /// Bits of its memory can flip.
    pub(super) memory: bool,
    /// It can lose its power, and bits of its flash can flip.
    pub(super) power: bool,
    /// Its frames pass through the stand-in.
    pub(super) link: bool,
}

/// A fault that is there.
#[derive(Clone, Copy, Debug)]
struct StandingFault {
    fault: Fault,
    /// Since when (ms since the stand-in started).
    since_ms: u64,
    /// It was typed, so that it stays when the furnace is filled again.
    typed: bool,
    /// When it is mended (ms since the stand-in started), if that was said.
    mend_ms: Option<u64>,
}

/// Follows the faults of a stand-in.
#[derive(Debug, Default)]
pub(super) struct FaultWatch {
    standing: Vec<StandingFault>,
    /// Faults of this furnace that are gone, with the time at which they went.
    gone: Vec<Fault>,
    /// Kinds that were mended, and when (s, as faults count).
    mended: Vec<(FaultKind, f64)>,
    /// Faults that struck once since the last trip.
    once: Vec<StandingFault>,
    /// Typed faults that the next tick will show: the time at which they are mended (ms).
    typed: Vec<(FaultKind, Option<u64>)>,
}

impl Reach {
    /// Why a fault cannot strike; `None` if it can.
    pub(super) fn refusal(self, fault: &Fault) -> Option<&'static str> {
        match fault.effect() {
            FaultEffect::MainsCut if !self.power => Some(
                "the emulated board cannot be switched off and on. End the stand-in, and start it \
                 again with --memory",
            ),
            FaultEffect::Flash(_) if !self.power => {
                Some("the flash of the emulated board is out of reach")
            }
            FaultEffect::Memory(_) if !self.memory => {
                Some("the memory of the emulated board is out of reach")
            }
            FaultEffect::LinkLost if !self.link => {
                Some("clients reach the emulated board's serial port without the stand-in")
            }
            FaultEffect::MainsCut
            | FaultEffect::Flash(_)
            | FaultEffect::Memory(_)
            | FaultEffect::LinkLost
            | FaultEffect::Tip(..)
            | FaultEffect::Signal(..)
            | FaultEffect::Contact(..)
            | FaultEffect::Gauge(_)
            | FaultEffect::Current(_)
            | FaultEffect::Contactor(_)
            | FaultEffect::OutputStage { .. }
            | FaultEffect::ElementShare(_)
            | FaultEffect::MainsShare(_)
            | FaultEffect::OpenedByHand(_)
            | FaultEffect::ClosureJammed
            | FaultEffect::IsolationStuck { .. }
            | FaultEffect::VentStuck { .. }
            | FaultEffect::PumpShare(_)
            | FaultEffect::SealLeak(_)
            | FaultEffect::TickLength(_)
            | FaultEffect::ClockStopped
            | FaultEffect::ClockJump(_)
            | FaultEffect::LateTick(_) => None,
        }
    }
}

impl FaultWatch {
    /// What has come and gone in the last tick, and mends what is due.
    pub(super) fn update(&mut self, world: &mut World) -> Vec<FaultNews> {
        let (now_ms, mut news) = (world.now_ms(), Vec::new());
        for fault in world.standing_faults() {
            match self.standing.iter_mut().find(|one| one.fault.kind == fault.kind) {
                Some(known) => known.fault = *fault,
                None => {
                    let typed = self.typed.iter().position(|(kind, _)| *kind == fault.kind);
                    let typed = typed.map(|index| self.typed.swap_remove(index).1);
                    self.standing.push(StandingFault {
                        fault: *fault,
                        // It was there in the whole tick.
                        since_ms: now_ms.saturating_sub(u64::from(TICK_MS)),
                        typed: typed.is_some(),
                        mend_ms: typed.flatten(),
                    });
                    news.push(FaultNews::Struck(*fault));
                }
            }
        }
        let due = |one: &StandingFault| {
            happens_once(&one.fault) || one.mend_ms.is_some_and(|mend_ms| mend_ms <= now_ms)
        };
        for one in self.standing.iter().filter(|one| due(one)) {
            world.mend(one.fault.kind);
        }
        self.remove_gone(world, &mut news);
        news
    }

    fn remove_gone(&mut self, world: &World, news: &mut Vec<FaultNews>) {
        let now_ms = world.now_ms();
        let stands = |one: &StandingFault| {
            world.standing_faults().any(|fault| fault.kind == one.fault.kind)
        };
        for one in self.standing.extract_if(.., |one| !stands(one)) {
            if happens_once(&one.fault) {
                self.gone.push(one.fault);
                self.once.push(one);
            } else {
                self.gone.push(one.fault.until(world.faults_s()));
                let stood_s = (now_ms - one.since_ms) as f64 / 1000.0;
                news.push(FaultNews::Mended(one.fault, stood_s));
            }
        }
    }

    /// Follows an order. Returns what to say at once; the next tick shows what has struck.
    pub(super) fn obey(
        &mut self,
        order: FaultOrder,
        world: &mut World,
        furnace: (&str, &FurnaceSpec),
        reach: Reach,
    ) -> Vec<FaultNews> {
        let mut news = Vec::new();
        match order {
            FaultOrder::Inject(fault, length_s) => {
                if let Some(why) = self.refusal(&fault, furnace, reach) {
                    return vec![FaultNews::Refused(why)];
                }
                let mend_ms = |length_s| world.now_ms() + (length_s * 1000.0) as u64;
                self.typed.push((fault.kind, length_s.map(mend_ms)));
                world.inject(fault);
            }
            FaultOrder::Mend(kind) => {
                if !world.mend(kind) {
                    let why = format!("{} is not there", kind.name());
                    return vec![FaultNews::Refused(why)];
                }
                self.mended.push((kind, world.faults_s()));
                self.remove_gone(world, &mut news);
                if news.is_empty() {
                    news.push(FaultNews::Forgotten(kind));
                }
            }
            FaultOrder::MendAll => {
                let kinds = FaultKind::ALL.into_iter().filter(|kind| world.mend(*kind));
                let mended: Vec<FaultKind> = kinds.collect();
                self.mended.extend(mended.into_iter().map(|kind| (kind, world.faults_s())));
                self.remove_gone(world, &mut news);
                if news.is_empty() {
                    news.push(FaultNews::Refused("no fault is there".to_owned()));
                }
            }
            FaultOrder::List => {
                let each = |one: &StandingFault| (one.fault, one.since_ms as f64 / 1000.0);
                news.push(FaultNews::Listed(self.standing.iter().map(each).collect()));
            }
        }
        news
    }

    /// Why a fault cannot be injected; `None` if it can.
    fn refusal(
        &self,
        fault: &Fault,
        (name, furnace): (&str, &FurnaceSpec),
        reach: Reach,
    ) -> Option<String> {
        let kind = fault.kind.name();
        if let Some(part) = fault.kind.needs().filter(|part| !part.is_part_of(furnace)) {
            return Some(format!("{name} has no {}, so {kind} cannot happen", part.name()));
        }
        if let Some(why) = reach.refusal(fault) {
            return Some(format!("{kind} cannot strike here: {why}"));
        }
        let there = self.standing.iter().find(|one| one.fault.kind == fault.kind)?;
        let since = clock_with_seconds(there.since_ms as f64 / 1000.0);
        Some(format!("{kind} is there already, since {since}. Mend it first"))
    }

    /// What to say when an interlock has tripped; `None` if no fault is there, and none has struck once since
    /// the last trip.
    pub(super) fn at_trip(&mut self, now_ms: u64) -> Option<FaultNews> {
        let each = |one: &StandingFault| {
            (one.fault, now_ms.saturating_sub(one.since_ms) as f64 / 1000.0)
        };
        let all: Vec<_> = self.once.iter().chain(&self.standing).map(each).collect();
        self.once.clear();
        (!all.is_empty()).then_some(FaultNews::TrippedDuring(all))
    }

    /// The faults of the firing in this world, with their times in it: those that were there, and of
    /// `planned` those that would still have come.
    pub(super) fn of_firing(&self, world: &World, planned: &[Fault]) -> Vec<Fault> {
        // Faults count from the first firing with this work.
        let offset_s = (world.faults_s() - world.now_s()).max(0.0);
        let offset_s = (offset_s * 1000.0).round() / 1000.0;
        let seen = || self.gone.iter().chain(self.standing.iter().map(|one| &one.fault));
        let is_seen = |fault: &Fault| {
            seen().any(|one| one.kind == fault.kind && (one.from_s - fault.from_s).abs() < 0.05)
        };
        let is_mended = |fault: &Fault| {
            self.mended.iter().any(|(kind, at_s)| *kind == fault.kind && *at_s <= fault.from_s)
        };
        let to_come = planned.iter().filter(|fault| !is_seen(fault) && !is_mended(fault));
        let in_firing = |fault: &Fault| {
            let from_s = fault.from_s - offset_s;
            let from_s =
                if fault.from_s < 0.0 || from_s < 0.0 { Fault::BEFORE_START_S } else { from_s };
            let until_s = fault.until_s - offset_s;
            (until_s > 0.0).then_some(Fault { from_s, until_s, ..*fault })
        };
        let mut all: Vec<Fault> = seen().chain(to_come).filter_map(in_firing).collect();
        all.sort_by(|a, b| a.from_s.total_cmp(&b.from_s));
        all
    }

    /// Begins again with a furnace that was filled again: what was typed and is not mended is there again.
    pub(super) fn refill(&mut self, world: &mut World) {
        (self.gone, self.mended, self.once) = (Vec::new(), Vec::new(), Vec::new());
        for one in self.standing.iter().filter(|one| one.typed && !happens_once(&one.fault)) {
            world.inject(one.fault);
        }
    }
}

/// Whether a fault with this effect is there.
pub(super) fn is_there(world: &World, effect: FaultEffect) -> bool {
    world.active_faults().any(|fault| fault.effect() == effect)
}

/// A fault in words: "control-gain, 97 % of the voltage, there for 0.5 s every 10 s".
pub fn fault_phrase(fault: &Fault) -> String {
    let name = fault.kind.name();
    let much = match fault.kind.severity() {
        None => String::new(),
        Some(Severity { unit, whole: true, .. }) => format!(", {unit} {}", fault.severity),
        Some(Severity { unit, .. }) => format!(", {} {unit}", fault.severity),
    };
    let often = fault.intermittent.map_or_else(String::new, |times| {
        format!(", for {} every {}", duration(times.for_s), duration(times.every_s))
    });
    format!("{name}{much}{often}")
}

/// What a part of the flash holds.
pub(super) const fn area_name(area: FlashArea) -> &'static str {
    match area {
        FlashArea::Programme => "programme",
        FlashArea::Settings => "settings",
        FlashArea::Log => "log",
    }
}

#[cfg(test)]
mod tests {
    use std::path::Path;

    use saggar_bench::Bench;
    use saggar_bench::firmware::SimulatedBoard;
    use saggar_bench::flash::SimulatedFlash;
    use saggar_bench::observer::{Observer, TickRecord};
    use saggar_core::io::Inputs;
    use saggar_device::DeviceSettings;
    use saggar_schedule::firing_plan::FiringPlan;

    use super::*;

    const OPEN: FaultKind = FaultKind::ControlOpen;
    const REACH: Reach = Reach { memory: true, power: true, link: true };

    fn plan() -> FiringPlan {
        let docs = Path::new(env!("CARGO_MANIFEST_DIR")).join("../../docs");
        FiringPlan::load(&docs.join("schedules/infiltrate-alumina.toml"), None).unwrap()
    }

    fn world(plan: &FiringPlan, faults: Vec<Fault>) -> World {
        World::new(&plan.profile.spec, &plan.work, 1, faults).unwrap()
    }

    /// The plan's furnace with a device, and these faults.
    fn bench(plan: &FiringPlan, faults: Vec<Fault>) -> Bench<SimulatedBoard, (), ()> {
        let furnace = plan.profile.furnace.clone();
        let settings = DeviceSettings::new([b'x'; 8], None, [0; 16], furnace);
        let flash = SimulatedFlash::with_settings(&settings).unwrap();
        Bench::new(world(plan, faults), SimulatedBoard::boot(flash).unwrap(), (), ())
    }

    fn run(bench: &mut Bench<SimulatedBoard, (), ()>, ticks: usize) {
        for _ in 0..ticks {
            bench.step().unwrap();
        }
    }

    #[test]
    fn a_whole_device_bears_every_fault_at_both_ends_of_its_severity() {
        let plan = plan();
        for kind in FaultKind::ALL {
            let range = kind.severity().map_or((0.0, 0.0), |severity| severity.range);
            for severity in [range.0, range.1] {
                let mut bench = bench(&plan, vec![kind.before_start().severity(severity)]);
                run(&mut bench, 40);
                assert!(bench.outputs().heater_cycles == 0, "{}: heat at rest", kind.name());
            }
        }
    }

    /// Ticks without a reading of control, limit and current.
    #[derive(Default)]
    struct Gaps([u32; 3]);

    impl Observer for Gaps {
        fn tick(&mut self, record: &TickRecord<'_>) {
            let Inputs { control, limit, heater_current_ma, .. } = record.inputs;
            let missing = [control.is_none(), limit.is_none(), heater_current_ma.is_none()];
            for (count, missing) in self.0.iter_mut().zip(missing) {
                *count += u32::from(missing);
            }
        }
    }

    /// Three in a row would be a trip.
    #[test]
    fn one_missed_answer_costs_a_whole_device_one_sample() {
        let plan = plan();
        let kinds =
            [FaultKind::ControlSilent, FaultKind::LimitSilent, FaultKind::CurrentSilent];
        let gaps = |kind: Option<FaultKind>, after| {
            let board = bench(&plan, Vec::new()).into_parts().1;
            let mut bench = Bench::new(world(&plan, Vec::new()), board, (), Gaps::default());
            let mut watch = FaultWatch::default();
            for tick in 0..60 {
                if let Some(kind) = kind.filter(|_| tick == after) {
                    let order = FaultOrder::Inject(kind.before_start(), Some(0.1));
                    let furnace = ("it", &plan.profile.spec);
                    watch.obey(order, bench.world_mut(), furnace, REACH);
                }
                bench.step().unwrap();
                watch.update(bench.world_mut());
            }
            bench.into_parts().2.0
        };
        let healthy = gaps(None, 0);
        for (index, kind) in kinds.into_iter().enumerate() {
            for after in 25..35 {
                let mut expected = healthy;
                expected[index] += 1;
                assert_eq!(gaps(Some(kind), after), expected, "{}, {after}", kind.name());
            }
        }
    }

    #[test]
    fn a_fault_is_followed_from_its_order_to_its_end() {
        let plan = plan();
        let mut bench = bench(&plan, Vec::new());
        let mut watch = FaultWatch::default();
        let furnace = ("it", &plan.profile.spec);
        let order = FaultOrder::Inject(OPEN.before_start(), Some(2.0));
        run(&mut bench, 10);
        assert!(watch.obey(order, bench.world_mut(), furnace, REACH).is_empty());
        let mut news = Vec::new();
        for _ in 0..40 {
            run(&mut bench, 1);
            news.extend(watch.update(bench.world_mut()));
        }
        let [FaultNews::Struck(struck), FaultNews::Mended(mended, stood_s)] = &news[..] else {
            panic!("{news:?}")
        };
        assert_eq!((struck.kind, mended.kind), (OPEN, OPEN));
        assert!((stood_s - 2.0).abs() < 1e-9, "{stood_s}");
        assert!(bench.world().active_faults().next().is_none());
        // It was over before any firing.
        assert_eq!(watch.of_firing(bench.world(), &[]), []);
    }

    #[test]
    fn a_typed_fault_stays_in_a_furnace_that_is_filled_again_and_a_planned_one_does_not() {
        let plan = plan();
        let gain = FaultKind::LimitGain.before_start();
        let mut bench = bench(&plan, vec![gain]);
        let mut watch = FaultWatch::default();
        let furnace = ("it", &plan.profile.spec);
        let order = FaultOrder::Inject(OPEN.before_start(), None);
        watch.obey(order, bench.world_mut(), furnace, REACH);
        run(&mut bench, 1);
        assert_eq!(watch.update(bench.world_mut()).len(), 2);
        let (mut fresh, step) = (world(&plan, Vec::new()), bench.outputs());
        watch.refill(&mut fresh);
        bench = Bench::new(fresh, bench.into_parts().1, (), ());
        run(&mut bench, 1);
        assert_eq!(bench.outputs().heater_cycles, step.heater_cycles);
        let there: Vec<FaultKind> = bench.world().active_faults().map(|one| one.kind).collect();
        assert_eq!(there, [OPEN]);
        let news = watch.update(bench.world_mut());
        assert!(
            matches!(&news[..], [FaultNews::Mended(gone, _)] if gone.kind == gain.kind),
            "{news:?}"
        );
    }

    #[test]
    fn a_planned_fault_that_is_mended_before_its_time_is_not_in_the_firing() {
        let plan = plan();
        let planned = [OPEN.at(600.0), FaultKind::LimitOpen.at(700.0)];
        let mut bench = bench(&plan, planned.to_vec());
        let mut watch = FaultWatch::default();
        run(&mut bench, 1);
        assert_eq!(watch.of_firing(bench.world(), &planned), planned);
        let furnace = ("it", &plan.profile.spec);
        let news = watch.obey(FaultOrder::Mend(OPEN), bench.world_mut(), furnace, REACH);
        assert!(matches!(news[..], [FaultNews::Forgotten(OPEN)]), "{news:?}");
        assert_eq!(watch.of_firing(bench.world(), &planned), [planned[1]]);
    }

    #[test]
    fn what_is_out_of_reach_is_refused() {
        let out = Reach { memory: false, power: false, link: false };
        for kind in FaultKind::ALL {
            let fault = kind.before_start();
            assert_eq!(REACH.refusal(&fault), None);
            let name = kind.name();
            let of_device = ["memory-", "flash-", "mains-cut", "link-lost"];
            let expected = of_device.iter().any(|start| name.starts_with(start));
            assert_eq!(out.refusal(&fault).is_some(), expected, "{name}");
        }
    }
}
