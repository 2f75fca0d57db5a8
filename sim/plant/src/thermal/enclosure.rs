//! What muffle, table, pins and pieces see of each other, with the chamber shut and open.
//!
//! A piece counts as a sphere of its outer area, with its centre over the table by the length of its pin;
//! the pin reaches from the table to the sphere. Direct views are closed forms (`radiation/views.rs`); the
//! muffle, with the rim that the table leaves free, fills what is left. Pieces that stand in each other's
//! way hide the muffle, not the table, and shadows on the table are not modelled.
//!
//! An open lift has lowered the table by the height of the muffle: the mouth radiates as a cavity, and the
//! ambient fills what is left. Behind an open door everything stays in its place, and a part of the muffle
//! as large as the mouth is replaced by the ambient.

use std::array::from_fn;
use std::f64::consts::{PI, TAU};

use super::piece_thermal::{PieceThermal, WET_EMISSIVITY};
use super::places::{RINGS, Ring, rings, sphere_radius_m};
use crate::radiation::{
    Enclosure, Surface, cylinder_to_disc, cylinder_to_sphere, disc_to_disc, sphere_to_disc,
    sphere_to_sphere,
};
use crate::spec::{Closure, FurnaceSpec};

/// Emissivity of the pins, dense alumina: handbook, 0.42 to 0.26 over 500 to 827 °C.
const PIN_EMISSIVITY: f64 = 0.4;

/// Smallest area of a surface (m²): an empty chamber holds a grain of dust.
const DUST_M2: f64 = 1e-6;

/// The ambient as a surface is so large that nothing comes back from it (m²).
const AMBIENT_M2: f64 = 100.0;

/// A part of the furnace that radiates inside.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub(super) enum RadiatingPart {
    Muffle,
    Table,
    /// The pins of a ring of places.
    Pins(usize),
    /// The pieces on a ring of places.
    Pieces(usize),
    Ambient,
}

/// Exchange areas of two parts (m²), with the chamber shut and open.
#[derive(Clone, Copy, Debug, PartialEq)]
pub(super) struct Exchange {
    pub(super) parts: [RadiatingPart; 2],
    pub(super) dry_m2: [f64; 2],
    /// With wet pieces.
    pub(super) wet_m2: [f64; 2],
}

impl Exchange {
    /// Share of each ring of pieces in the change from dry to wet. Where neither part is a ring of pieces
    /// the change is small, and all rings have equal shares.
    pub(super) fn shares(&self, rings: usize) -> [f64; RINGS] {
        let own = |ring: usize| self.parts.contains(&RadiatingPart::Pieces(ring));
        let involved = (0..rings).filter(|ring| own(*ring)).count();
        from_fn(|ring| match involved {
            0 if ring < rings => 1.0 / rings as f64,
            _ if own(ring) => 1.0 / involved as f64,
            _ => 0.0,
        })
    }
}

/// The exchange areas of a furnace and its work, those of pairs that see each other.
pub(super) fn exchanges(spec: &FurnaceSpec, piece: &PieceThermal) -> Vec<Exchange> {
    let wet = PieceThermal { emissivity: WET_EMISSIVITY, ..*piece };
    let [dry, wet] = [piece, &wet].map(|piece| exchange_m2(spec, piece));
    let parts = Inside::of(spec, piece).parts;
    let at = |areas: &[Vec<f64>], from: usize, to: usize| {
        areas.get(from).and_then(|row| row.get(to)).copied().unwrap_or(0.0)
    };
    let mut found = Vec::new();
    for (from, part) in parts.iter().enumerate() {
        for (to, other) in parts.iter().enumerate().skip(from + 1) {
            let [dry_m2, wet_m2] =
                [&dry, &wet].map(|states| from_fn(|open| at(&states[open], from, to)));
            if dry_m2.iter().any(|area| *area > 0.0) {
                found.push(Exchange { parts: [*part, *other], dry_m2, wet_m2 });
            }
        }
    }
    found
}

/// Exchange areas of all parts (m²), with the chamber shut and open.
fn exchange_m2(spec: &FurnaceSpec, piece: &PieceThermal) -> [Vec<Vec<f64>>; 2] {
    let inside = Inside::of(spec, piece);
    let open = match spec.closure {
        Closure::Lift => inside.lowered(),
        Closure::Door => inside.door_open(),
    };
    [inside.shut(), open].map(|enclosure| enclosure.exchange_m2())
}

/// Share of the ambient in the view of a tip half way up the open muffle, on its axis.
pub(super) fn ambient_share_of_tip(spec: &FurnaceSpec) -> f64 {
    let (radius, height) = (spec.chamber.muffle_radius_m, spec.chamber.muffle_height_m);
    let mouth = sphere_to_disc(0.5 * height, 0.0, radius);
    match spec.closure {
        Closure::Lift => mouth * (1.0 - disc_to_disc(radius, table_radius_m(spec), height)),
        Closure::Door => mouth,
    }
}

/// Radius of the table (m), as far as it fits into the muffle.
pub(super) fn table_radius_m(spec: &FurnaceSpec) -> f64 {
    spec.table.radius_m.min(spec.chamber.muffle_radius_m)
}

const MUFFLE: usize = 0;
const TABLE: usize = 1;

/// The surfaces inside and their measures (m, m²).
struct Inside {
    /// The parts, the ambient last, and their surfaces; that of the ambient is the mouth.
    parts: Vec<RadiatingPart>,
    surfaces: Vec<Surface>,
    rings: Vec<Ring>,
    muffle_m: f64,
    height_m: f64,
    table_m: f64,
    /// Radius of a sphere with the area of a piece, and height of its centre over the table.
    sphere_m: f64,
    over_table_m: f64,
}

impl Inside {
    fn of(spec: &FurnaceSpec, piece: &PieceThermal) -> Self {
        let (radius, height) = (spec.chamber.muffle_radius_m, spec.chamber.muffle_height_m);
        let table = table_radius_m(spec);
        let area = piece.area_m2.max(DUST_M2);
        let sphere = sphere_radius_m(area);
        let over_table = spec.pin.length_m.max(sphere);
        let bare_pin = (over_table - sphere) * PI * spec.pin.diameter_m;
        let (mouth, table_area) = (PI * radius * radius, PI * table * table);
        let muffle = TAU * radius * height + mouth + (mouth - table_area);
        let rings = rings(piece, table);
        let mut parts = vec![RadiatingPart::Muffle, RadiatingPart::Table];
        let mut areas =
            vec![(muffle, spec.chamber.muffle_emissivity), (table_area, spec.table.emissivity)];
        for (ring, Ring { count, .. }) in rings.iter().enumerate() {
            let pieces = f64::from(*count);
            parts.extend([RadiatingPart::Pins(ring), RadiatingPart::Pieces(ring)]);
            areas.push(((pieces * bare_pin).max(DUST_M2), PIN_EMISSIVITY));
            areas.push((pieces * area, piece.emissivity));
        }
        parts.push(RadiatingPart::Ambient);
        areas.push((mouth, 1.0));
        let surface = |(area_m2, emissivity)| Surface { area_m2, emissivity };
        Self {
            parts,
            surfaces: areas.into_iter().map(surface).collect(),
            rings,
            muffle_m: radius,
            height_m: height,
            table_m: table,
            sphere_m: sphere,
            over_table_m: over_table,
        }
    }

    /// Index of the ambient.
    fn ambient(&self) -> usize {
        self.surfaces.len() - 1
    }

    /// What table, pins and pieces see of each other, wherever the table is; not closed.
    fn on_the_table(&self, surfaces: &[Surface]) -> Enclosure {
        let Self { table_m, sphere_m, over_table_m, .. } = *self;
        let mut seen = Enclosure::new(surfaces.to_vec());
        let bare = (over_table_m - sphere_m).max(1e-6);
        for (at, ring) in self.rings.iter().enumerate() {
            let (pins, pieces) = (TABLE + 1 + 2 * at, TABLE + 2 + 2 * at);
            let [pin, piece] = [pins, pieces].map(|index| surfaces[index].area_m2);
            let off_axis = ring.off_axis_m;
            seen.see(TABLE, pieces, piece * sphere_to_disc(over_table_m, off_axis, table_m));
            seen.see(TABLE, pins, pin * cylinder_to_disc([0.0, bare], off_axis, table_m));
            seen.see(
                pins,
                pieces,
                pin * cylinder_to_sphere([sphere_m, over_table_m], sphere_m),
            );
            let one = piece / f64::from(ring.count);
            for (other, beside) in self.rings.iter().enumerate().skip(at) {
                let neighbours: f64 = ring
                    .distances_m(beside)
                    .map(|apart| sphere_to_sphere(sphere_m, apart.max(2.0 * sphere_m)))
                    .sum();
                seen.see(pieces, TABLE + 2 + 2 * other, one * neighbours);
            }
        }
        seen
    }

    fn shut(&self) -> Enclosure {
        let mut shut = self.on_the_table(&self.surfaces[..self.ambient()]);
        shut.close(MUFFLE);
        shut
    }

    fn lowered(&self) -> Enclosure {
        let Self { muffle_m, height_m, table_m, over_table_m, .. } = *self;
        let ambient = self.ambient();
        let mut surfaces = self.surfaces.clone();
        let Surface { area_m2, emissivity } = surfaces[MUFFLE];
        let mouth = surfaces[ambient].area_m2;
        let rim = mouth - surfaces[TABLE].area_m2;
        let cavity = 1.0 / (1.0 + mouth / (area_m2 - rim) * (1.0 / emissivity - 1.0));
        surfaces[MUFFLE] = Surface { area_m2: mouth, emissivity: cavity };
        surfaces[ambient].area_m2 = AMBIENT_M2;
        let mut open = self.on_the_table(&surfaces);
        open.see(MUFFLE, TABLE, mouth * disc_to_disc(muffle_m, table_m, height_m));
        let up = (height_m - over_table_m).max(0.0);
        for (at, ring) in self.rings.iter().enumerate() {
            let pieces = TABLE + 2 + 2 * at;
            let share = sphere_to_disc(up, ring.off_axis_m, muffle_m);
            open.see(MUFFLE, pieces, surfaces[pieces].area_m2 * share);
        }
        open.close(ambient);
        open
    }

    fn door_open(&self) -> Enclosure {
        let (shut, ambient) = (self.shut(), self.ambient());
        let mut surfaces = self.surfaces.clone();
        let mouth = surfaces[ambient].area_m2;
        let share = mouth / surfaces[MUFFLE].area_m2;
        surfaces[MUFFLE].area_m2 -= mouth;
        let mut open = self.on_the_table(&surfaces);
        for (one, surface) in surfaces.iter().enumerate().take(ambient).skip(TABLE) {
            let muffle = shut.view_factor(one, MUFFLE) * surface.area_m2;
            open.see(one, ambient, share * muffle);
        }
        open.close(MUFFLE);
        open
    }
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::thermal::tests::demo::{copings, door_furnace, small_lift_furnace};

    /// Every state of the two furnaces, with one piece and with twelve.
    fn enclosures() -> Vec<Enclosure> {
        let works = [1, 12].map(|count| PieceThermal { count, ..copings() });
        let inside = [small_lift_furnace(), door_furnace()];
        let inside = inside.iter().flat_map(|spec| works.map(|work| Inside::of(spec, &work)));
        inside.flat_map(|i| [i.shut(), i.lowered(), i.door_open()]).collect()
    }

    #[test]
    fn every_surface_sees_the_whole_of_its_enclosure_and_no_view_is_negative() {
        for enclosure in enclosures() {
            for from in 0..enclosure.len() {
                let views = (0..enclosure.len()).map(|to| enclosure.view_factor(from, to));
                let views: Vec<f64> = views.collect();
                assert!(views.iter().all(|view| *view >= 0.0), "{from}: {views:?}");
                assert!((views.iter().sum::<f64>() - 1.0).abs() < 1e-12, "{from}: {views:?}");
            }
        }
    }

    #[test]
    fn every_exchange_is_the_same_in_both_directions_and_adds_up_to_what_a_surface_emits() {
        for enclosure in enclosures() {
            let exchange = enclosure.exchange_m2();
            for (i, row) in exchange.iter().enumerate() {
                for (j, found) in row.iter().enumerate() {
                    assert!(*found >= 0.0);
                    assert!((found - exchange[j][i]).abs() < 1e-12 * enclosure.emitted_m2(i));
                }
                let sum: f64 = row.iter().sum();
                assert!((sum / enclosure.emitted_m2(i) - 1.0).abs() < 1e-12, "{i}: {sum}");
            }
        }
    }

    #[test]
    fn a_piece_sees_the_table_with_a_view_factor_of_about_a_third() {
        let inside = Inside::of(&small_lift_furnace(), &copings());
        let view = inside.shut().view_factor(TABLE + 2, TABLE);
        assert!((0.28..0.33).contains(&view), "{view}");
    }

    #[test]
    fn a_lowered_piece_sees_mostly_the_ambient_and_one_behind_a_door_does_not() {
        let inside = Inside::of(&small_lift_furnace(), &copings());
        let share = |open: Enclosure| open.view_factor(TABLE + 2, inside.ambient());
        assert!(share(inside.lowered()) > 0.5);
        assert!(share(inside.door_open()) < 0.2);
    }

    /// What a profile must not state, but a program may.
    #[test]
    fn a_table_wider_than_the_muffle_counts_as_wide_as_that() {
        let mut spec = small_lift_furnace();
        spec.table.radius_m = 2.0 * spec.chamber.muffle_radius_m;
        let many = PieceThermal { count: 20, ..copings() };
        let start = crate::thermal::NodeTemperatures::even(20.0);
        let (_, nodes) = crate::thermal::furnace_network(&spec, &many, &start).unwrap();
        assert_eq!(nodes.rings.len(), Inside::of(&spec, &many).rings.len());
    }
}
