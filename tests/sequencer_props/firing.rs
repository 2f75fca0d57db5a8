//! The sequencer alone, with arbitrary valid programmes and arbitrary plants.

use proptest::prelude::*;
use saggar_core::furnace::Coast;
use saggar_core::programme::{Action, ProgrammeImage, Step, VacuumStage, verify};
use saggar_core::sequencer::{
    Demand, Sequencer, SequencerInputs, SequencerLimits, SequencerState,
};
use saggar_core::units::Instant;
use saggar_core::{TICK_MS, TICK_S};

use crate::support::{furnace, image};

/// A firing that this search gives a furnace (ms): two hours.
const FIRING_MAX_MS: u64 = 7_200_000;

fn valid_action() -> impl Strategy<Value = Action> {
    prop_oneof![
        4 => (20_000i32..=1_180_000, 1_000u32..=150_000)
            .prop_map(|(to_mc, rate_mk_per_min)| Action::Ramp { to_mc, rate_mk_per_min }),
        3 => (100u32..600_000, 500u32..=50_000, 100u32..600_000).prop_map(
            |(duration_ms, band_mk, band_timeout_ms)| Action::Soak { duration_ms, band_mk, band_timeout_ms }),
        1 => (20_000i32..1_180_000).prop_map(|below_mc| Action::Cool { below_mc }),
        1 => (any::<bool>(), 0u32..60_000)
            .prop_map(|(open, dwell_ms)| Action::MoveClosure { open, dwell_ms }),
        1 => (1u32..60_000, any::<bool>())
            .prop_map(|(timeout_ms, continue_on_timeout)| Action::Hold { timeout_ms, continue_on_timeout }),
    ]
}

fn valid_step() -> impl Strategy<Value = Step> {
    let stage = (0i32..1_100_000, 3000u32..90_000, 1000u32..600_000)
        .prop_map(|(from_mc, to_pa, within_ms)| VacuumStage { from_mc, to_pa, within_ms });
    (valid_action(), prop::option::weighted(0.3, stage))
        .prop_map(|(action, vacuum)| Step::new(action, vacuum))
}

/// Programmes that the bench furnace may run.
fn valid_programme() -> impl Strategy<Value = (Vec<Step>, ProgrammeImage)> {
    prop::collection::vec(valid_step(), 1..10).prop_filter_map("may not run", |mut steps| {
        steps.insert(0, crate::support::step(crate::support::ramp(300, 100)));
        let image = image(&steps);
        verify(&image, &furnace()).is_empty().then_some((steps, image))
    })
}

/// A plant: how fast it follows (1/s), how far off it reads, how often it does not answer.
#[derive(Clone, Debug)]
struct Plant {
    follows: f32,
    off_k: f32,
    silent_every: u32,
    pumps: f32,
    moves: bool,
    confirms_every: u32,
}

fn any_plant() -> impl Strategy<Value = Plant> {
    (
        0.0f32..0.5,
        -30.0f32..30.0,
        5u32..2000,
        0.0f32..0.05,
        prop::bool::weighted(0.9),
        50u32..9000,
    )
        .prop_map(|(follows, off_k, silent_every, pumps, moves, confirms_every)| Plant {
            follows,
            off_k,
            silent_every,
            pumps,
            moves,
            confirms_every,
        })
}

/// What the plant is and was told.
struct World<'a> {
    plant: &'a Plant,
    reading_c: f32,
    pressure: f32,
    open: bool,
}

impl World<'_> {
    fn now(&self, tick: u32) -> SequencerInputs {
        let answers = tick == 0 || !tick.is_multiple_of(self.plant.silent_every);
        SequencerInputs {
            now: Instant::from_millis(u64::from(tick) * u64::from(TICK_MS)),
            reading_c: answers.then_some(self.reading_c),
            pressure_pa: Some(self.pressure as u32),
            shut: !self.open,
            open: self.open,
            trip: None,
            start_pressed: tick == 0,
            resume: None,
            stop_held: false,
            confirm_pressed: tick % self.plant.confirms_every == self.plant.confirms_every - 1,
            coast: Coast::default(),
        }
    }

    fn follow(&mut self, plan: &Demand) {
        let to = plan.setpoint.map_or(20.0, |setpoint| setpoint.celsius + self.plant.off_k);
        self.reading_c += (to - self.reading_c) * self.plant.follows * TICK_S;
        let to = if plan.vacuum_pa.is_some() { 2000.0 } else { 101_325.0 };
        self.pressure += (to - self.pressure) * self.plant.pumps;
        self.open = if self.plant.moves { plan.open_closure } else { false };
    }
}

/// The hottest that the programme asks for, or that the furnace was at while nothing was asked.
fn highest_c(steps: &[Step], seen: f32) -> f32 {
    steps.iter().fold(seen, |highest, step| match step.action {
        Action::Ramp { to_mc, .. } => highest.max(to_mc as f32 * 0.001),
        Action::Soak { .. }
        | Action::Cool { .. }
        | Action::MoveClosure { .. }
        | Action::Hold { .. } => highest,
    })
}

fn rate_k_per_s(step: &Step) -> f32 {
    match step.action {
        Action::Ramp { rate_mk_per_min, .. } => rate_mk_per_min as f32 / 60_000.0,
        Action::Soak { .. }
        | Action::Cool { .. }
        | Action::MoveClosure { .. }
        | Action::Hold { .. } => 0.0,
    }
}

/// What one tick says and what the tick before said.
struct Seen {
    index: u8,
    gathered_ms: u32,
    setpoint_c: Option<f32>,
}

fn check(
    sequencer: &Sequencer,
    steps: &[Step],
    now: &SequencerInputs,
    plan: &Demand,
    before: Option<&Seen>,
    hottest: f32,
) -> Result<Option<Seen>, TestCaseError> {
    let SequencerState::Running(run) = sequencer.state() else {
        let still = Demand { open_closure: plan.open_closure, ..Demand::default() };
        prop_assert_eq!(plan, &still, "asks for something after the end");
        return Ok(None);
    };
    let step = steps[usize::from(run.step_index())];
    prop_assert_eq!(run.step(), &step, "not the step that its index names");
    prop_assert_eq!(plan.setpoint.is_some() && !step.action.heats(), false);
    if let Some(setpoint) = plan.setpoint {
        prop_assert!(setpoint.celsius <= highest_c(steps, hottest) + 0.001);
        prop_assert!(setpoint.rate_k_per_s.abs() <= rate_k_per_s(&step) * 1.000_001);
    }
    if let Some(before) = before {
        prop_assert!(run.step_index() == before.index || run.step_index() == before.index + 1);
        let fresh = run.step_index() != before.index;
        let gathered = if fresh { 0 } else { before.gathered_ms };
        prop_assert!(run.counted_ms() >= gathered, "gathered time went back");
        if let (Action::Soak { band_mk, .. }, Some(setpoint)) = (step.action, plan.setpoint)
            && run.counted_ms() > gathered
        {
            let band = band_mk as f32 * 0.001;
            let inside = now.reading_c.is_some_and(|c| (c - setpoint.celsius).abs() <= band);
            prop_assert!(inside && !fresh, "gathered outside the band");
        }
        if let (Some(from), Some(to), false) = (before.setpoint_c, plan.setpoint, fresh) {
            let most = rate_k_per_s(&step) * TICK_S + 0.002;
            prop_assert!((to.celsius - from).abs() <= most + 0.000_3, "faster than its rate");
        }
    }
    Ok(Some(Seen {
        index: run.step_index(),
        gathered_ms: run.counted_ms(),
        setpoint_c: plan.setpoint.map(|setpoint| setpoint.celsius),
    }))
}

proptest! {
    #![proptest_config(ProptestConfig::with_cases(192))]

    /// A firing is never hotter or faster than its programme, only moves forward, counts soak time only
    /// inside the band, and ends.
    #[test]
    fn a_firing_keeps_to_its_programme(
        (steps, image) in valid_programme(),
        plant in any_plant(),
        from_c in 15.0f32..290.0,
    ) {
        let rules = SequencerLimits {
            open_below_c: 300.0,
            firing_max_ms: FIRING_MAX_MS,
            closure_travel_max_ms: 120_000,
            has_vacuum: true,
            has_auxiliary_contact: false,
            has_current_sensor: false,
        };
        let mut sequencer = Sequencer::default();
        let mut world =
            World { plant: &plant, reading_c: from_c, pressure: 101_325.0, open: false };
        let mut before = None;
        let mut hottest = f32::MIN;
        let ticks_max = u32::try_from(FIRING_MAX_MS).unwrap() / TICK_MS + 2;
        for tick in 0..=ticks_max {
            prop_assert!(tick < ticks_max, "no end after the longest firing");
            let now = world.now(tick);
            let plan = sequencer.advance(Some(&image), &rules, &now);
            if plan.setpoint.is_none() {
                // What a ramp after a move may start from.
                hottest = hottest.max(world.reading_c);
            }
            before = check(&sequencer, &steps, &now, &plan, before.as_ref(), hottest)?;
            if before.is_none() {
                break;
            }
            world.follow(&plan);
        }
    }
}
