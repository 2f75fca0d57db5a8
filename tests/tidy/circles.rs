//! The files of a package do not depend on each other in a cycle.

use super::uses::Modules;
use super::{Source, boards, members, product};

#[test]
fn no_files_use_each_other_in_a_circle() {
    for package in members().into_iter().chain(boards()) {
        // The modules of this package are beside its `src`.
        let folder = if package == "tests" { "tests/" } else { &format!("{package}/src/") };
        let circle = Modules::of(folder, &product(folder)).circle();
        assert_eq!(circle, None, "{package}: files that use each other");
    }
}

/// The cycle among files with these paths and texts.
fn circle(files: &[(&str, &str)]) -> Option<String> {
    let source =
        |(path, text): &(&str, &str)| Source { path: (*path).into(), text: (*text).into() };
    Modules::of("", &files.iter().map(source).collect::<Vec<_>>()).circle()
}

#[test]
fn planted_circles_are_found() {
    let parent = ("a/mod.rs", "mod b;\nuse b::B;\npub struct A;\n");
    let child = ("a/b.rs", "use super::{\n    A as Other,\n};\n");
    assert_eq!(circle(&[parent, child]).as_deref(), Some("a -> a::b -> a"));
    let siblings =
        [("a.rs", "fn f() { crate::b::g(); }\n"), ("b.rs", "use crate::a::{self, f};\n")];
    assert_eq!(circle(&siblings).as_deref(), Some("a -> b -> a"));
    let (top, a) =
        (("lib.rs", "mod a;\nmod b;\nmod c;\npub use b::B;\n"), ("a.rs", "use crate::B;\n"));
    let three =
        [top, a, ("b.rs", "use super::c::C;\n"), ("c.rs", "fn f(a: &super::a::A) {}\n")];
    assert_eq!(circle(&three).as_deref(), Some("a -> b -> c -> a"));
    let with_the_top =
        [("main.rs", "mod a;\nfn main() { a::f() }\n"), ("a.rs", "use crate::main;\n")];
    assert_eq!(circle(&with_the_top).as_deref(), Some("the top -> a -> the top"));
}

#[test]
fn harmless_shapes_are_none() {
    // A parent that shows what a child defines, and a child that uses what another shows above it.
    let parent = ("a/mod.rs", "mod b;\nmod c;\npub use b::{B, Bee as Wasp};\npub struct A;\n");
    let b = ("a/b.rs", "pub struct B;\npub struct Bee;\nuse std::fmt;\nuse other::a::A;\n");
    let c = ("a/c.rs", "use super::{A, B, Wasp};\n// use super::c::C;\nfn f() { self::g() }\n");
    let user =
        ("d.rs", "pub(crate) use crate::a::A;\nfn f() -> crate::a::Wasp { super::a::f() }\n");
    let called = ("e.rs", "macro_rules! m { () => { $crate::f::F } }\n");
    assert_eq!(circle(&[parent, b, c, user, called, ("f.rs", "use crate::e::m;\n")]), None);
}
