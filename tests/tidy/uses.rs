//! Which files of a package use which others.

use std::collections::{BTreeMap, BTreeSet};

use super::Source;

/// The files of a package as modules, each by its path from the root: `a::b`.
#[derive(Default)]
pub(super) struct Modules(BTreeMap<String, Module>);

#[derive(Default)]
struct Module {
    /// Paths that its code names, in `use` lines and elsewhere.
    paths: Vec<String>,
    /// Re-exported names with their paths. A re-export does not count as a use.
    shows: BTreeMap<String, String>,
}

impl Modules {
    /// The modules of these sources, whose paths begin with a folder.
    pub(super) fn of(folder: &str, sources: &[Source]) -> Self {
        let mut modules = Self::default();
        for source in sources {
            let path = source.path.strip_prefix(folder).expect("a file of the folder");
            let mut names: Vec<_> = path.trim_end_matches(".rs").split('/').collect();
            names.pop_if(|last| ["mod", "lib", "main"].contains(last));
            modules.0.entry(names.join("::")).or_default().read(source);
        }
        modules
    }

    /// The module that defines what a path in `from` names; `None` if it is outside the package.
    fn home(&self, from: &str, path: &str) -> Option<String> {
        let first = path.split("::").next().unwrap_or_default();
        if !["crate", "super", "self"].contains(&first) && !self.has(&below(from, first)) {
            return None;
        }
        let mut at = from.to_owned();
        for name in path.split("::") {
            match name {
                "crate" => at.clear(),
                "super" => at.truncate(at.rfind("::").unwrap_or(0)),
                "self" => {}
                module if self.has(&below(&at, module)) => at = below(&at, module),
                item => {
                    let shown = self.0.get(&at).and_then(|module| module.shows.get(item));
                    return shown.and_then(|path| self.home(&at, path)).or(Some(at));
                }
            }
        }
        Some(at)
    }

    fn has(&self, module: &str) -> bool {
        self.0.contains_key(module)
    }

    /// What each module uses, except itself.
    fn uses(&self) -> BTreeMap<&str, BTreeSet<String>> {
        let of = |name: &str, module: &Module| {
            let homes = module.paths.iter().filter_map(|path| self.home(name, path));
            homes.filter(|home| home != name).collect()
        };
        self.0.iter().map(|(name, module)| (name.as_str(), of(name, module))).collect()
    }

    /// A cycle, if there is one: each module uses the next, and the last is the first again.
    pub(super) fn circle(&self) -> Option<String> {
        let uses = self.uses();
        let mut left: BTreeSet<&str> = uses.keys().copied().collect();
        // A module that uses none of the rest is not in a cycle.
        while let Some(free) =
            left.iter().copied().find(|name| uses[name].iter().all(|it| !left.contains(&**it)))
        {
            left.remove(free);
        }
        let mut way = vec![*left.first()?];
        loop {
            let last = &uses[way.last().expect("it begins somewhere")];
            let next = last.iter().find(|it| left.contains(&***it)).expect("all use one");
            let seen = way.iter().position(|it| it == next);
            way.push(next);
            if let Some(start) = seen {
                let named =
                    |name: &&str| if name.is_empty() { "the top" } else { *name }.to_owned();
                return Some(way[start..].iter().map(named).collect::<Vec<_>>().join(" -> "));
            }
        }
    }
}

impl Module {
    fn read(&mut self, source: &Source) {
        let code: Vec<_> = source.code().map(|(_, line)| line).collect();
        for piece in code.join("\n").split(';') {
            let (before, tree) = split_use(piece).unwrap_or((piece, ""));
            // A path in a macro counts where the macro is called.
            let word = |c: char| c.is_alphanumeric() || ['_', ':', '$'].contains(&c);
            let words = before.split(|c| !word(c)).map(|it| it.trim_end_matches(':'));
            let paths = words.filter(|it| it.contains("::") && !it.starts_with('$'));
            self.paths.extend(paths.map(str::to_owned));
            let public =
                before.lines().last().is_some_and(|line| line.trim().starts_with("pub"));
            for path in opened(tree) {
                let (path, name) = path.split_once('=').unwrap_or((&path, &path));
                let path = path.trim_end_matches("::self");
                if public {
                    let name = name.rsplit("::").next().unwrap_or_default();
                    self.shows.insert(name.to_owned(), path.to_owned());
                } else {
                    self.paths.push(path.to_owned());
                }
            }
        }
    }
}

fn below(module: &str, name: &str) -> String {
    if module.is_empty() { name.to_owned() } else { format!("{module}::{name}") }
}

/// Splits a piece of code at a `use` at its end: what comes before, `pub` included, and its tree.
fn split_use(piece: &str) -> Option<(&str, &str)> {
    let mut found = piece.match_indices("use ").map(|(at, _)| piece.split_at(at));
    let (before, tree) = found.find(|(before, _)| {
        let line = before.rsplit('\n').next().unwrap_or_default().trim();
        line.is_empty() || line == "pub" || line.starts_with("pub(") && line.ends_with(')')
    })?;
    Some((before, tree.strip_prefix("use ")?))
}

/// The paths of a `use` with its braces expanded; a new name follows after a `=`.
fn opened(tree: &str) -> Vec<String> {
    let (mut found, mut outer, mut path) = (Vec::new(), Vec::new(), String::new());
    for letter in tree.replace(" as ", "=").chars().chain([',']) {
        match letter {
            '{' => outer.push(path.clone()),
            ',' => found
                .push(std::mem::replace(&mut path, outer.last().cloned().unwrap_or_default())),
            '}' => {
                found.push(path);
                path = outer.pop().unwrap_or_default();
            }
            blank if blank.is_whitespace() => {}
            _ => path.push(letter),
        }
    }
    // A closing brace, and a comma before one, leave an unfinished path.
    found.retain(|path| !path.is_empty() && !path.ends_with("::"));
    found
}
