//! The page on campaigns has every invariant as the code states it, and the tests that it names exist.

use saggar_bench::observer::invariants::{Evidence, Invariant};

use super::named_tests::is_test_found;
use super::{quoted, read, sources, table};

#[test]
fn the_page_has_every_invariant_with_where_it_is_shown() {
    let files = sources("");
    let rows = table(&read("docs/campaign.md"), "invariant");
    assert_eq!(rows.len(), Invariant::ALL.len());
    for (row, invariant) in rows.iter().zip(Invariant::ALL) {
        let [number, statement, shown] = row.as_slice() else { panic!("{row:?}") };
        assert_eq!(*number, format!("I{}", invariant.number()));
        assert_eq!(statement, invariant.statement(), "{number}");
        let named = quoted(shown);
        match invariant.evidence() {
            Evidence::Watched => assert!(shown == "watched" && named.is_empty(), "{row:?}"),
            Evidence::Tests(tests) => assert_eq!(named, tests, "{number}"),
        }
        for name in named {
            assert!(is_test_found(&files, &name), "{number}: there is no test {name}");
        }
    }
}
