//! The faults that are tried, each with what must follow.

mod clock;
mod contacts;
mod electrical;
mod memory;
mod sensors;
mod vacuum;
mod variant;

pub use variant::Variant;

/// All variants.
pub fn variants() -> Vec<Variant> {
    let groups: [&[Variant]; 7] = [
        &sensors::CONTROL,
        &sensors::LIMIT,
        &electrical::ELECTRICAL,
        &contacts::CONTACTS,
        &vacuum::VACUUM,
        &clock::CLOCK,
        &memory::MEMORY,
    ];
    groups.concat()
}

#[cfg(test)]
mod tests {
    use std::collections::BTreeSet;

    use super::variants;

    #[test]
    fn there_are_enough_variants_and_each_has_a_name_of_its_own() {
        let all = variants();
        let names: BTreeSet<_> = all.iter().map(super::Variant::name).collect();
        assert_eq!(names.len(), all.len());
        assert!(all.len() >= 120, "{} variants", all.len());
    }

    /// A rehearsal can show all but what only a whole device has, and power cuts, which have a campaign of
    /// their own.
    #[test]
    fn every_kind_of_fault_is_tried() {
        use saggar_plant::faults::FaultKind;
        let tried: BTreeSet<_> = variants().iter().map(|variant| variant.kind).collect();
        for kind in FaultKind::ALL {
            let of_device = kind.needs().is_some_and(|part| part.needs_a_device());
            let expected = !of_device && kind != FaultKind::MainsCut;
            assert_eq!(tried.contains(&kind), expected, "{kind:?}");
        }
    }
}
