//! The shape of the house: which way imports go, who may know which crate, what the calculation must not know, and
//! that no file is forgotten. The sources are read as text; `sources` says how.

mod sources;

use std::collections::BTreeSet;
use std::fs;
use std::path::{Path, PathBuf};

use sources::{Source, below, module_order, root, rust_files};

/// What each part of the service may import besides itself. A part that is not listed ties the others together.
const MAY_IMPORT: &[(&str, &[&str])] = &[
    ("calc", &[]),
    ("clock", &[]),
    ("documents", &["calc"]),
    ("store", &["calc", "clock"]),
    ("outbound", &["store", "calc", "clock"]),
    ("service", &["store", "outbound", "documents", "calc", "clock"]),
    ("http", &["service", "documents", "calc", "clock", "config"]),
];

/// Parts that tie the others together, and may import any of them.
const TIES: &[&str] = &["app", "cli", "config", "lib", "main", "telemetry"];

/// Crates that only some parts may know.
const KNOWN_ONLY_BY: &[(&str, &[&str])] = &[
    ("actix_web", &["http", "app", "cli", "telemetry"]),
    ("actix_cors", &["http", "app", "cli"]),
    ("tracing_actix_web", &["http", "app", "cli", "telemetry"]),
    ("utoipa_actix_web", &["http", "app", "cli"]),
    ("utoipa_swagger_ui", &["http", "app", "cli"]),
    ("sea_orm", &["store"]),
    ("sea_orm_migration", &["store"]),
    ("sqlx", &["store"]),
    ("migrations", &["store"]),
    ("reqwest", &["outbound", "cli::demo"]),
    ("getrandom", &["service::keys"]),
];

/// Words that would bring time, chance, waiting or the outside into the calculation.
const NOT_IN_CALC: &[&str] = &[
    "async",
    "await",
    "tokio",
    "futures",
    "futures_util",
    "rand",
    "getrandom",
    "SystemTime",
    "Instant",
    "Utc",
    "Local",
    "new_v4",
    "new_v7",
    "thread",
    "println",
    "eprintln",
    "tracing",
    "std::env",
    "std::fs",
    "std::io",
    "std::net",
    "std::process",
];

/// Names that say nothing.
const EMPTY_NAMES: &[&str] =
    &["common", "core", "data", "helper", "helpers", "manager", "managers", "misc", "shared", "util", "utils"];

fn part_of(source: &Source) -> &str {
    source.module.first().map_or("lib", String::as_str)
}

fn none(faults: Vec<String>) {
    assert!(faults.is_empty(), "\n{}\n", faults.join("\n"));
}

#[test]
fn imports_go_one_way() {
    let mut faults = Vec::new();
    for source in rust_files("src") {
        let part = part_of(&source);
        if TIES.contains(&part) {
            continue;
        }
        let Some((_, allowed)) = MAY_IMPORT.iter().find(|(name, _)| *name == part) else {
            faults.push(format!("{}: '{part}' is a part of the house that this test does not know", source.path));
            continue;
        };
        for import in source.crate_paths() {
            let to = import.segments.first().map_or("", String::as_str);
            if to != part && !allowed.contains(&to) {
                faults.push(format!("{}:{}: {part} must not import {to}", source.path, import.line));
            }
        }
    }
    none(faults);
}

#[test]
fn a_stage_of_the_calculation_imports_only_what_stands_above_it() {
    let order = module_order("src/calc/lib.rs");
    let place = |name: &str| order.iter().position(|m| m == name);
    let mut faults = Vec::new();
    let mut imports = 0;
    for source in rust_files("src/calc") {
        let Some(stage) = source.module.get(1) else { continue };
        let Some(from) = place(stage) else {
            faults.push(format!("{}: '{stage}' does not stand in src/calc/lib.rs", source.path));
            continue;
        };
        for import in source.crate_paths() {
            let [part, to, ..] = &import.segments[..] else { continue };
            if part != "calc" {
                continue;
            }
            imports += 1;
            match place(to) {
                Some(to) if to <= from => {}
                Some(_) => {
                    faults.push(format!(
                        "{}:{}: {stage} must not import {to}, which stands below it",
                        source.path, import.line
                    ));
                }
                // A name that lib.rs itself defines: the chain, which stands below all stages.
                None => faults.push(format!("{}:{}: {stage} must not import calc::{to}", source.path, import.line)),
            }
        }
    }
    assert!(imports > 20, "only {imports} imports were seen: this test has gone blind");
    none(faults);
}

#[test]
fn each_outside_crate_is_known_by_its_own_part_only() {
    let mut faults = Vec::new();
    let mut met = BTreeSet::new();
    for source in rust_files("src") {
        let module = source.module.join("::");
        for (name, line) in source.words() {
            let Some((krate, parts)) = KNOWN_ONLY_BY.iter().find(|(krate, _)| *krate == name) else { continue };
            met.insert(*krate);
            let known = parts.iter().any(|part| module == *part || module.starts_with(&format!("{part}::")));
            if !known {
                faults.push(format!("{}:{line}: {krate} is known only by {}", source.path, parts.join(", ")));
            }
        }
    }
    for krate in ["actix_web", "sea_orm", "reqwest"] {
        assert!(met.contains(krate), "{krate} is used nowhere: this test has gone blind");
    }
    none(faults);
}

#[test]
fn the_calculation_knows_no_clock_no_chance_and_no_outside() {
    let mut faults = Vec::new();
    for source in rust_files("src/calc") {
        let words: Vec<(String, usize)> = source.words();
        for (i, (word, line)) in words.iter().enumerate() {
            let pair = words.get(i + 1).map(|(next, _)| format!("{word}::{next}")).unwrap_or_default();
            if let Some(met) = NOT_IN_CALC.iter().find(|not| *not == word || **not == pair) {
                faults.push(format!("{}:{line}: '{met}' has no place in the calculation", source.path));
            }
        }
    }
    none(faults);
}

#[test]
fn money_is_never_a_float() {
    let mut faults = Vec::new();
    for source in rust_files("src/calc/money.rs").chain(rust_files("src/calc/quote.rs")) {
        for (word, line) in source.words() {
            if word == "f64" || word == "f32" {
                faults.push(format!("{}:{line}: money is exact decimal, never {word}", source.path));
            }
        }
    }
    none(faults);
}

#[test]
fn every_source_file_is_reached_by_a_mod() {
    let roots: [(&[&str], &str); 3] = [
        (&["tests/it/main.rs"], "tests/it"),
        (&["src/lib.rs", "src/calc/lib.rs", "src/documents/lib.rs"], "src"),
        (&["migrations/src/lib.rs"], "migrations/src"),
    ];
    for (crate_roots, folder) in roots {
        let mut reached = BTreeSet::new();
        for crate_root in crate_roots {
            reach(&root().join(crate_root), true, &mut reached);
            assert!(reached.contains(&root().join(crate_root)), "{crate_root} is not there");
        }
        let forgotten: Vec<_> = below(folder, "rs")
            .into_iter()
            .filter(|path| !reached.contains(path) && !path.ends_with("src/main.rs"))
            .map(|path| format!("{} is reached by no mod: the compiler never sees it", path.display()))
            .collect();
        none(forgotten);
    }
}

/// Adds a file and all that its `mod` lines lead to.
fn reach(file: &Path, owns_its_folder: bool, reached: &mut BTreeSet<PathBuf>) {
    if !file.exists() || !reached.insert(file.to_owned()) {
        return;
    }
    let folder = file.parent().expect("a file has a folder");
    let folder = if owns_its_folder { folder.to_owned() } else { folder.join(file.file_stem().expect("a name")) };
    let source = Source::read(file);
    for name in source.declared_modules() {
        reach(&folder.join(format!("{name}.rs")), false, reached);
        reach(&folder.join(&name).join("mod.rs"), true, reached);
    }
}

#[test]
fn no_module_has_a_name_that_says_nothing() {
    let mut faults = Vec::new();
    for folder in ["src", "migrations/src"] {
        for path in below(folder, "rs") {
            let inside = path.strip_prefix(root()).expect("below the root").with_extension("");
            for name in inside.iter().filter_map(|part| part.to_str()) {
                if EMPTY_NAMES.iter().any(|empty| name.split('_').any(|word| word == *empty)) {
                    faults.push(format!("{}: '{name}' says nothing: name what it is about", path.display()));
                }
            }
        }
    }
    none(faults);
}

#[test]
fn no_test_is_skipped_and_no_lint_is_switched_off_without_a_reason() {
    let mut faults = Vec::new();
    for folder in ["src", "migrations/src", "tests"] {
        for path in below(folder, "rs") {
            let source = Source::read(&path);
            for (line, attribute) in source.attributes() {
                let silent = attribute.starts_with("allow(") || attribute.starts_with("ignore");
                let unexplained = attribute.starts_with("expect(") && !attribute.contains("reason");
                if silent || unexplained {
                    faults.push(format!("{}:{line}: #[{attribute}]: write #[expect(…, reason = \"…\")]", source.path));
                }
            }
        }
    }
    none(faults);
}

#[test]
fn nothing_that_is_committed_names_one_machine_or_a_registry_host() {
    // Put together here, so that this file does not name them either.
    let hosts =
        [["registry.npm", "js.org"], ["pythonhosted", ".org"], ["static.crates", ".io"], ["index.crates", ".io"]];
    let folders = [["/wo", "rk/"], ["/ro", "ot/"], ["/ho", "me/"], ["/Us", "ers/"], ["C:\\", "Users"]];
    let unwanted: Vec<String> = hosts.iter().chain(&folders).map(|parts| parts.concat()).collect();
    let files: Vec<PathBuf> = below("", "").into_iter().collect();
    assert!(files.len() > 30, "only {} files were seen: this test has gone blind", files.len());
    let mut faults = Vec::new();
    for path in files {
        let Ok(text) = fs::read_to_string(&path) else { continue };
        for (number, line) in text.lines().enumerate() {
            if let Some(met) = unwanted.iter().find(|unwanted| line.contains(unwanted.as_str())) {
                faults.push(format!("{}:{}: names {met}", path.display(), number + 1));
            }
        }
    }
    none(faults);
}

/// Whether a boat complies is for a person to sign, never for a printout to say.
#[test]
fn nothing_says_that_a_boat_complies() {
    let files: Vec<PathBuf> = ["src", "api"].into_iter().flat_map(|folder| below(folder, "")).collect();
    assert!(files.len() > 30, "only {} files were seen: this test has gone blind", files.len());
    let mut faults = Vec::new();
    for path in files {
        let Ok(text) = fs::read_to_string(&path) else { continue };
        let says = |line: &str| line.to_ascii_lowercase().contains("complian");
        let found = text.lines().enumerate().filter(|(_, line)| says(line));
        faults.extend(found.map(|(number, line)| format!("{}:{}: {line}", path.display(), number + 1)));
    }
    none(faults);
}
