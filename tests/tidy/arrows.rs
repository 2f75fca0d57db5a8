//! Dependencies between packages, and between the modules of a package, are those that the tables in
//! `docs/architecture.md` allow.

use std::collections::BTreeSet;

use super::{Source, boards, members, product, quoted, read, root, sources, table, table_head};

const PAGE: &str = "docs/architecture.md";

/// Root files of a package: they declare the modules and are not modules themselves.
const AT_THE_TOP: [&str; 2] = ["lib", "main"];

/// The table of one package's modules.
struct Modules {
    /// Folder of its sources, with a slash at the end.
    sources: String,
    /// Path prefix of another package's modules, if the table has a column for them.
    other: Option<String>,
    rows: Vec<Row>,
}

struct Row {
    module: String,
    own: BTreeSet<String>,
    other: BTreeSet<String>,
}

impl Modules {
    /// The tables of all packages: each follows a heading with the folder of the package.
    fn all() -> Vec<Self> {
        let page = read(PAGE);
        let sections: Vec<_> = page.split("\n### `").skip(1).collect();
        let folders: Vec<_> =
            sections.iter().map(|it| it.split('`').next().unwrap_or_default()).collect();
        for member in members().iter().filter(|it| !it.starts_with("tests")) {
            assert!(folders.contains(&member.as_str()), "no table of the modules of {member}");
        }
        folders.iter().zip(sections).map(|(folder, text)| Self::read(folder, text)).collect()
    }

    fn read(folder: &str, text: &str) -> Self {
        let set = |cell: Option<&String>| -> BTreeSet<String> {
            cell.map(|cell| quoted(cell)).unwrap_or_default().into_iter().collect()
        };
        let head = table_head(text, "module");
        let other = head.get(3).map(|cell| format!("{}::", quoted(cell)[0].replace('-', "_")));
        let rows = table(text, "module").into_iter().map(|row| Row {
            module: quoted(&row[0])[0].clone(),
            own: set(row.get(2)),
            other: set(row.get(3)),
        });
        Self { sources: format!("{folder}/src/"), other, rows: rows.collect() }
    }

    /// The module at the top of the package that a file belongs to.
    fn module_of<'a>(&self, source: &'a Source) -> &'a str {
        let path = source.path.strip_prefix(&self.sources).expect("a file of the package");
        path.split(['/', '.']).next().unwrap_or_default()
    }

    fn row(&self, module: &str) -> &Row {
        let row = self.rows.iter().find(|row| row.module == module);
        row.unwrap_or_else(|| panic!("{}{module} is not in the table", self.sources))
    }

    /// The files of the package, tests aside.
    fn files(&self) -> Vec<Source> {
        product(&self.sources)
    }

    /// A path that leaves its module through `super` would be a dependency that the search misses.
    fn assert_no_super_past_the_top(&self, source: &Source) {
        let path = source.path.strip_prefix(&self.sources).unwrap_or_default();
        let way = "super::".repeat(path.trim_end_matches("/mod.rs").split('/').count());
        for (number, line) in source.code() {
            assert!(!line.contains(&way), "{}:{number}: {way}", source.path);
        }
    }
}

/// The root file of a package.
struct Top {
    text: String,
    /// Re-exported names with the module that each comes from; `None` for another package.
    shown: Vec<(String, Option<String>)>,
}

impl Top {
    fn read(sources: &str) -> Self {
        let mut tops = AT_THE_TOP.map(|name| format!("{sources}{name}.rs")).into_iter();
        let text = read(&tops.find(|top| root().join(top).exists()).expect("a top"));
        let uses = text.split("pub use ").skip(1).filter_map(|it| it.split_once(';'));
        let mut shown = Vec::new();
        for (path, _) in uses {
            let Some((module, names)) = path.split_once("::") else { continue };
            let names = names.split(|c: char| !(c.is_alphanumeric() || c == '_'));
            let module = Some(module).filter(|module| !module.starts_with("saggar_"));
            shown.extend(names.map(|name| (name.to_owned(), module.map(str::to_owned))));
        }
        Self { text, shown }
    }

    /// The module that a name after `crate::` belongs to; `None` if the root file defines it.
    fn module_of(&self, name: &str) -> Option<String> {
        if let Some((_, module)) = self.shown.iter().find(|(shown, _)| shown == name) {
            return module.clone();
        }
        if name.starts_with(|c: char| c.is_ascii_lowercase()) {
            return Some(name.to_owned());
        }
        // A name re-exported by a glob cannot be traced to a module.
        let here = ["const", "struct", "enum", "trait", "type"].iter();
        let here = here.map(|kind| format!("{kind} {name}"));
        let mut here = here.filter(|item| self.text.contains(item));
        assert!(
            here.next().is_some(),
            "{name} is not defined in the root file: name its module"
        );
        None
    }
}

/// Every module that a file names after this prefix, in `use` lines and elsewhere.
fn used(source: &Source, prefix: &str, top: &Top) -> BTreeSet<String> {
    let mut found = BTreeSet::new();
    for (_, line) in source.code() {
        for (at, _) in line.match_indices(prefix) {
            if line[..at].ends_with(|c: char| c.is_alphanumeric() || c == '_' || c == ':') {
                continue;
            }
            let after = &line[at + prefix.len()..];
            assert!(!after.starts_with('{'), "{}: one `use {prefix}` a module", source.path);
            let end = after.find(|c: char| !(c.is_ascii_alphanumeric() || c == '_'));
            found.extend(top.module_of(&after[..end.unwrap_or(after.len())]));
        }
    }
    found
}

#[test]
fn modules_use_only_what_the_table_allows() {
    for modules in Modules::all() {
        let mut seen = BTreeSet::new();
        let tops = [modules.sources.as_str(), "firmware/core/src/"].map(Top::read);
        for source in modules.files() {
            let module = modules.module_of(&source);
            if AT_THE_TOP.contains(&module) {
                continue;
            }
            let row = modules.row(module);
            let prefixes =
                [(Some("crate::"), &row.own), (modules.other.as_deref(), &row.other)];
            for ((prefix, allowed), top) in prefixes.into_iter().zip(&tops) {
                let Some(prefix) = prefix else { continue };
                for other in used(&source, prefix, top) {
                    // A module may name itself.
                    if prefix == "crate::" && other == module {
                        continue;
                    }
                    assert!(allowed.contains(&other), "{}: uses {prefix}{other}", source.path);
                    seen.insert((module.to_owned(), prefix == "crate::", other));
                }
            }
            modules.assert_no_super_past_the_top(&source);
        }
        for row in &modules.rows {
            let own = row.own.iter().map(|other| (row.module.clone(), true, other.clone()));
            let other =
                row.other.iter().map(|other| (row.module.clone(), false, other.clone()));
            for arrow in own.chain(other) {
                assert!(seen.contains(&arrow), "{arrow:?}: allowed, and nothing uses it");
            }
        }
    }
}

/// A module may use only rows above its own, so there is no cycle.
#[test]
fn the_tables_have_no_cycle() {
    for modules in Modules::all() {
        let mut above = BTreeSet::new();
        for row in &modules.rows {
            for other in &row.own {
                let module = &row.module;
                assert!(above.contains(other), "{module} uses {other}, which is not above it");
            }
            above.insert(row.module.clone());
        }
        let listed: BTreeSet<_> =
            modules.files().iter().map(|source| modules.module_of(source).to_owned()).collect();
        let left = listed.difference(&above).filter(|it| !AT_THE_TOP.contains(&it.as_str()));
        assert_eq!(left.count(), 0, "{}: {listed:?} against {above:?}", modules.sources);
    }
}

/// Our packages among the dependencies in a manifest, dev-dependencies aside.
fn named(manifest: &str) -> BTreeSet<String> {
    let code: Vec<_> = manifest.lines().filter_map(|line| line.split('#').next()).collect();
    let code = code.join("\n");
    let tables = code.split("\n[").filter(|table| {
        let head = table.split(']').next().unwrap_or_default();
        head.contains("dependencies") && !head.contains("dev-dependencies")
    });
    let words =
        tables.flat_map(|table| table.split(|c: char| !(c.is_alphanumeric() || c == '-')));
    words.filter(|word| word.starts_with("saggar")).map(str::to_owned).collect()
}

/// Our packages that the package in a folder depends on.
pub(super) fn packages(folder: &str) -> BTreeSet<String> {
    named(&read(&format!("{folder}/Cargo.toml")))
}

#[test]
fn dependencies_are_found_in_every_table() {
    let manifest = "[package]\nname = \"saggar-z\"\n\n[dependencies]\nsaggar-a.workspace = true\n# saggar-y\n\
                    b = { package = \"saggar-b\", path = \"../b\" }\n\n[dependencies.saggar-c]\nworkspace = true\n\n\
                    [build-dependencies]\nsaggar-d = { workspace = true, features = [\"e\"] }\n\n\
                    [target.'cfg(unix)'.dependencies]\nsaggar = { path = \"x\" }\n\n\
                    [dev-dependencies]\nsaggar-x.workspace = true\n";
    let found: Vec<_> = named(manifest).into_iter().collect();
    assert_eq!(found, ["saggar", "saggar-a", "saggar-b", "saggar-c", "saggar-d"]);
}

/// Each package depends on exactly what its row says, and only on rows above.
#[test]
fn packages_depend_as_the_table_says() {
    let (mut above, mut listed) = (BTreeSet::new(), BTreeSet::new());
    for row in table(&read(PAGE), "folder") {
        let (folder, allowed) = (&quoted(&row[0])[0], quoted(&row[2]).into_iter().collect());
        let of_row = if folder == "firmware/boards" { boards() } else { vec![folder.clone()] };
        let depends: BTreeSet<_> = of_row.iter().flat_map(|it| packages(it)).collect();
        assert_eq!(depends, allowed, "{folder}");
        assert!(allowed.is_subset(&above), "{folder} depends on what is not above it");
        above.extend(quoted(&row[1]).into_iter().take(1));
        listed.extend(of_row);
    }
    for member in members() {
        assert!(listed.contains(&member), "{member} has no row");
    }
}

/// True if a line names the core's estimator: its module or one of its types.
fn names_the_estimator(line: &str) -> bool {
    let words = line.split(|c: char| !(c.is_alphanumeric() || c == '_'));
    let names = ["estimate", "Estimate", "Estimator", "Tracker", "ChannelEstimate"];
    words.into_iter().any(|word| names.contains(&word))
}

/// The simulation has a plant model of its own. If it used the core's estimator, it would confirm the
/// estimator's errors.
#[test]
fn simulation_does_not_use_the_estimator() {
    for source in ["sim/plant", "sim/bench"].into_iter().flat_map(sources) {
        for (number, line) in source.code() {
            assert!(!names_the_estimator(line), "{}:{number}", source.path);
        }
    }
    let core = read("firmware/core/src/estimate.rs");
    let mut types = core.lines().filter(|line| line.starts_with("pub struct ")).peekable();
    assert!(
        types.peek().is_some() && types.all(names_the_estimator),
        "a type of the estimator is not in the list"
    );
    assert!(
        names_the_estimator("use saggar_core::{estimate, io};")
            && !names_the_estimator("let estimated = 1;")
    );
}
