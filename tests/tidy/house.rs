//! The diagram of packages in `docs/architecture.md`: it shows every package of the workspace once, in
//! the storey of its folder and above everything that it depends on.

use super::arrows::packages;
use super::{members, read};

/// From top to bottom.
const STOREYS: [&str; 4] = ["tests", "host-tool", "sim", "firmware"];

/// A package: its folder, and those of the packages that it depends on.
type Package = (String, Vec<String>);

/// The diagram: the folder of each package, with the line of its name.
struct House {
    storeys: Vec<String>,
    rooms: Vec<(usize, String)>,
    arrows: Vec<char>,
}

impl House {
    /// A package's name is the first word in its box; a storey's name is left of its first wall.
    fn read(picture: &str) -> Self {
        let mut house = Self { storeys: Vec::new(), rooms: Vec::new(), arrows: Vec::new() };
        let mut begins = false;
        for (number, line) in picture.lines().enumerate() {
            let Some((left, cells)) = line.split_once('│') else {
                begins = line.contains('─');
                let arrows = line.chars().filter(|c| !begins && !c.is_whitespace());
                house.arrows.extend(arrows);
                continue;
            };
            let label = left.trim();
            if !label.is_empty() {
                house.storeys.push(label.to_owned());
            }
            let names = cells.split('│').filter_map(|cell| cell.split_whitespace().next());
            for name in names.filter(|_| begins) {
                let storey = house.storeys.last().map_or("", String::as_str);
                let top = storey == name;
                let folder = if top { name.to_owned() } else { format!("{storey}/{name}") };
                house.rooms.push((number, folder));
            }
            begins = false;
        }
        house
    }

    fn line_of(&self, folder: &str) -> Option<usize> {
        self.rooms.iter().find(|(_, room)| room == folder).map(|(line, _)| *line)
    }

    /// What is wrong in the diagram.
    fn errors(&self, packages: &[Package]) -> Vec<String> {
        let mut errors = Vec::new();
        for (folder, uses) in packages {
            let times = self.rooms.iter().filter(|(_, room)| room == folder).count();
            if times != 1 {
                errors.push(format!("{folder} is in the picture {times} times"));
            }
            let beneath = |other: &&String| self.line_of(folder) < self.line_of(other);
            let wrong = uses.iter().filter(|other| !beneath(other));
            errors.extend(wrong.map(|other| format!("{folder} does not stand above {other}")));
        }
        let strange = |room: &&(usize, String)| !packages.iter().any(|(it, _)| *it == room.1);
        let strange = self.rooms.iter().filter(strange);
        errors
            .extend(strange.map(|(_, room)| format!("{room} is no package of the workspace")));
        if self.storeys != STOREYS {
            errors.push(format!("the storeys are {:?}", self.storeys));
        }
        if self.arrows != ['▼'; STOREYS.len() - 1] {
            errors.push(format!("the arrows are {:?}", self.arrows));
        }
        errors
    }
}

/// All packages of the workspace.
fn workspace() -> Vec<Package> {
    let folders = members();
    let name = |folder: &String| {
        let manifest = read(&format!("{folder}/Cargo.toml"));
        let (_, name) = manifest.split_once("name = \"").expect("a name");
        name.split('"').next().unwrap_or_default().to_owned()
    };
    let named: Vec<_> = folders.iter().map(|folder| (name(folder), folder.clone())).collect();
    let uses = |folder: &String| {
        let wanted = packages(folder);
        named
            .iter()
            .filter(|(name, _)| wanted.contains(name))
            .map(|(_, it)| it.clone())
            .collect()
    };
    folders.iter().map(|folder| (folder.clone(), uses(folder))).collect()
}

#[test]
fn the_diagram_shows_every_package() {
    let page = read("docs/architecture.md");
    let (_, picture) =
        page.split_once("## Packages at a glance").expect("the diagram's heading");
    let (_, picture) = picture.split_once("```text\n").expect("the diagram");
    let (picture, _) = picture.split_once("```").expect("its end");
    let packages = workspace();
    assert!(packages.iter().any(|(_, uses)| uses.len() > 5), "no dependencies were read");
    assert_eq!(House::read(picture).errors(&packages), Vec::<String>::new(), "{picture}");
}

#[test]
fn planted_errors_of_the_diagram_are_found() {
    let storeys = "           ┌───┐\n tests     │ tests │\n ▼\n───\n host-tool │ cli │ files │\n           │ words │\n ▼\n";
    let cellar = "───\n sim       │ plant │\n ▼\n───\n firmware  │ core all else │\n───\n";
    let house = format!("{storeys}{cellar}");
    let package = |folder: &str, uses: &[&str]| {
        (folder.to_owned(), uses.iter().map(|it| (*it).to_owned()).collect())
    };
    let (core, plant) =
        (package("firmware/core", &[]), package("sim/plant", &["firmware/core"]));
    let (files, cli) =
        (package("host-tool/files", &[]), package("host-tool/cli", &["sim/plant"]));
    let right = [core, plant, files, cli, package("tests", &["host-tool/cli"])];
    let faults =
        |picture: &str, packages: &[Package]| House::read(picture).errors(packages).join("; ");
    assert_eq!(faults(&house, &right), "");
    assert_eq!(faults(&house, &right[1..]), "firmware/core is no package of the workspace");
    let twice = house.replace("core all", "core │ core");
    assert_eq!(faults(&twice, &right), "firmware/core is in the picture 2 times");
    let none = house.replace("│ files │", "│");
    assert_eq!(faults(&none, &right), "host-tool/files is in the picture 0 times");
    let mut beside = right.clone();
    beside[3].1.push("host-tool/files".to_owned());
    assert_eq!(faults(&house, &beside), "host-tool/cli does not stand above host-tool/files");
    let upward = house.replacen('▼', "▲", 1);
    assert_eq!(faults(&upward, &right), "the arrows are ['▲', '▼', '▼']");
    let elsewhere = house.replace("│ plant", "│ plant │ core2");
    assert_eq!(faults(&elsewhere, &right), "sim/core2 is no package of the workspace");
    assert!(faults("", &right).contains("the storeys are []"));
}
