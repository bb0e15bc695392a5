//! Rust sources as text: comments and literals blanked out, then words, paths, `mod` lines and attributes.
//!
//! This is no parser. It needs to see `use` trees, paths in code, and nothing of what a string or a comment says.

use std::collections::BTreeSet;
use std::fs;
use std::path::{Path, PathBuf};

/// Parts of the house that are crates of their own, so that `crate` is their own folder there.
const OWN_CRATES: [&str; 2] = ["calc", "documents"];

/// The folder of the project.
pub fn root() -> &'static Path {
    Path::new(env!("CARGO_MANIFEST_DIR")).parent().expect("tests/ lies in the project")
}

/// Files of the project below a folder that end with an extension ("" for all), without what is built or ignored.
pub fn below(folder: &str, extension: &str) -> BTreeSet<PathBuf> {
    fn walk(folder: &Path, extension: &str, found: &mut BTreeSet<PathBuf>) {
        let Ok(entries) = fs::read_dir(folder) else { return };
        for entry in entries.filter_map(Result::ok) {
            let path = entry.path();
            let name = entry.file_name();
            if ["target", ".git", "node_modules", "__pycache__"].iter().any(|skipped| name == *skipped) {
                continue;
            }
            if path.is_dir() {
                walk(&path, extension, found);
            } else if extension.is_empty() || path.extension().is_some_and(|e| e == extension) {
                found.insert(path);
            }
        }
    }
    let mut found = BTreeSet::new();
    let start = if folder.is_empty() { root().to_owned() } else { root().join(folder) };
    walk(&start, extension, &mut found);
    found
}

/// The Rust sources at or below a path of the project.
pub fn rust_files(path: &str) -> impl Iterator<Item = Source> {
    let at = root().join(path);
    let files = if at.is_file() { BTreeSet::from([at]) } else { below(path, "rs") };
    files.into_iter().map(|file| Source::read(&file))
}

/// The names of the modules that a file declares, in its order.
pub fn module_order(path: &str) -> Vec<String> {
    Source::read(&root().join(path)).declared_modules()
}

/// One source file.
pub struct Source {
    /// Path from the project's folder.
    pub path: String,
    /// Module path, for a file below `src`: `["calc", "spec", "boat"]`; empty for `lib.rs` and `main.rs`.
    pub module: Vec<String>,
    /// The text with comments and literals blanked, line breaks kept.
    text: String,
}

/// A path into the crate itself.
pub struct CratePath {
    /// Line, counted from 1.
    pub line: usize,
    /// Segments after `crate`.
    pub segments: Vec<String>,
}

/// A piece of source: a word, or a sign that is no part of one.
#[derive(Clone, Debug, PartialEq)]
enum Token {
    Word(String),
    Sign(char),
}

impl Source {
    /// Reads a file.
    pub fn read(file: &Path) -> Self {
        let text = fs::read_to_string(file).unwrap_or_else(|e| panic!("{}: {e}", file.display()));
        let path = file.strip_prefix(root()).expect("below the root").display().to_string().replace('\\', "/");
        let module = path.strip_prefix("src/").map_or(Vec::new(), |inside| {
            let inside = inside.trim_end_matches(".rs").trim_end_matches("/mod");
            inside.split('/').filter(|part| !["lib", "main"].contains(part)).map(str::to_owned).collect()
        });
        Source { path, module, text: blanked(&text) }
    }

    fn tokens(&self) -> Vec<(Token, usize)> {
        let mut tokens = Vec::new();
        let mut word = String::new();
        let mut line = 1;
        for c in self.text.chars().chain([' ']) {
            if c.is_alphanumeric() || c == '_' {
                word.push(c);
                continue;
            }
            if !word.is_empty() {
                tokens.push((Token::Word(std::mem::take(&mut word)), line));
            }
            if c == '\n' {
                line += 1;
            } else if !c.is_whitespace() {
                tokens.push((Token::Sign(c), line));
            }
        }
        tokens
    }

    /// All words of the code with their lines.
    pub fn words(&self) -> Vec<(String, usize)> {
        let word = |(token, line)| match token {
            Token::Word(word) => Some((word, line)),
            Token::Sign(_) => None,
        };
        self.tokens().into_iter().filter_map(word).collect()
    }

    /// Modules that the file declares in files of their own.
    pub fn declared_modules(&self) -> Vec<String> {
        let tokens = self.tokens();
        let is = |i: usize, word: &str| matches!(tokens.get(i), Some((Token::Word(w), _)) if w == word);
        let name_at = |i: usize| match (tokens.get(i), tokens.get(i + 1)) {
            (Some((Token::Word(name), _)), Some((Token::Sign(';'), _))) => Some(name.clone()),
            _ => None,
        };
        (0..tokens.len()).filter(|&i| is(i, "mod")).filter_map(|i| name_at(i + 1)).collect()
    }

    /// Attributes with their lines, as written between `#[` and `]`, white space left out.
    pub fn attributes(&self) -> Vec<(usize, String)> {
        let tokens = self.tokens();
        let mut found = Vec::new();
        for (i, (token, line)) in tokens.iter().enumerate() {
            if *token != Token::Sign('#') {
                continue;
            }
            let inner = usize::from(matches!(tokens.get(i + 1), Some((Token::Sign('!'), _))));
            if !matches!(tokens.get(i + 1 + inner), Some((Token::Sign('['), _))) {
                continue;
            }
            let mut depth = 0;
            let mut text = String::new();
            for (token, _) in &tokens[i + 2 + inner..] {
                match token {
                    Token::Sign(']') if depth == 0 => break,
                    Token::Sign(sign) => {
                        depth += i32::from(*sign == '[') - i32::from(*sign == ']');
                        text.push(*sign);
                    }
                    Token::Word(word) => text.push_str(word),
                }
            }
            found.push((*line, text));
        }
        found
    }

    /// Every path into the crate: `crate::`, `super::` and `self::` resolved, `use` trees spread out.
    pub fn crate_paths(&self) -> Vec<CratePath> {
        let tokens = self.tokens();
        let mut paths = Vec::new();
        // Where this file's modules stand: its own, and those that are open in braces, with their depth.
        let mut module = self.module.clone();
        let mut opened: Vec<usize> = Vec::new();
        let mut depth = 0;
        let mut i = 0;
        while i < tokens.len() {
            let line = tokens[i].1;
            let climbs = match &tokens[i].0 {
                Token::Word(word) if word == "mod" => {
                    if let (Some((Token::Word(name), _)), Some((Token::Sign('{'), _))) =
                        (tokens.get(i + 1), tokens.get(i + 2))
                    {
                        module.push(name.clone());
                        opened.push(depth);
                    }
                    None
                }
                Token::Word(word) if word == "crate" => Some(
                    module.len() - usize::from(module.first().is_some_and(|part| OWN_CRATES.contains(&part.as_str()))),
                ),
                Token::Word(word) if word == "self" => Some(0),
                Token::Word(word) if word == "super" => Some(1),
                Token::Sign('{') => {
                    depth += 1;
                    None
                }
                Token::Sign('}') => {
                    depth -= 1;
                    if opened.last() == Some(&depth) {
                        opened.pop();
                        module.pop();
                    }
                    None
                }
                _ => None,
            };
            i += 1;
            let Some(mut climbs) = climbs else { continue };
            if !double_colon(&tokens, i) {
                continue;
            }
            // super::super:: climbs once more for each. A tree's braces open and close inside `spread`.
            while tokens.get(i + 2).is_some_and(|t| t.0 == Token::Word("super".to_owned())) && double_colon(&tokens, i)
            {
                climbs += 1;
                i += 3;
            }
            if double_colon(&tokens, i) {
                let start = module[..module.len().saturating_sub(climbs)].to_vec();
                i = spread(&tokens, i + 2, start, line, &mut paths);
            }
        }
        paths
    }
}

fn double_colon(tokens: &[(Token, usize)], i: usize) -> bool {
    let colon = |i: usize| matches!(tokens.get(i), Some((Token::Sign(':'), _)));
    colon(i) && colon(i + 1)
}

/// Reads a path or a `use` tree from `i` on, adds each of its branches, and answers where it ended.
fn spread(
    tokens: &[(Token, usize)],
    mut i: usize,
    mut path: Vec<String>,
    line: usize,
    paths: &mut Vec<CratePath>,
) -> usize {
    loop {
        match tokens.get(i) {
            Some((Token::Word(word), _)) => {
                if word != "self" {
                    path.push(word.clone());
                }
                i += 1;
                if !double_colon(tokens, i) {
                    break;
                }
                i += 2;
            }
            Some((Token::Sign('{'), _)) => {
                i += 1;
                while !matches!(tokens.get(i), None | Some((Token::Sign('}'), _))) {
                    let at = i;
                    i = spread(tokens, i, path.clone(), line, paths);
                    // A sign that no tree has is stepped over, so that this ends.
                    i = if i == at { i + 1 } else { i };
                    if matches!(tokens.get(i), Some((Token::Word(word), _)) if word == "as") {
                        i += 2;
                    }
                    while matches!(tokens.get(i), Some((Token::Sign(','), _))) {
                        i += 1;
                    }
                }
                return i + 1;
            }
            _ => break,
        }
    }
    paths.push(CratePath { line, segments: path });
    i
}

/// The text with comments, strings and character literals replaced by spaces, line breaks kept.
fn blanked(text: &str) -> String {
    let chars: Vec<char> = text.chars().collect();
    let mut out = String::with_capacity(text.len());
    let mut i = 0;
    let blank = |c: char| if c == '\n' { '\n' } else { ' ' };
    while i < chars.len() {
        let rest = &chars[i..];
        let end = if rest.starts_with(&['/', '/']) {
            rest.iter().position(|c| *c == '\n').unwrap_or(rest.len())
        } else if rest.starts_with(&['/', '*']) {
            block_comment(rest)
        } else if rest[0] == '"' {
            string(rest)
        } else if rest[0] == 'r' && !in_word(&chars, i) && raw_hashes(rest).is_some() {
            raw_string(rest)
        } else if rest[0] == '\'' {
            character(rest)
        } else {
            0
        };
        if end == 0 {
            out.push(rest[0]);
            i += 1;
        } else {
            out.extend(rest[..end].iter().copied().map(blank));
            i += end;
        }
    }
    out
}

fn in_word(chars: &[char], i: usize) -> bool {
    // `br"…"` is a raw string too, so a lone b before r is no word.
    let before = |n: usize| i.checked_sub(n).map(|at| chars[at]);
    match before(1) {
        Some('b') => before(2).is_some_and(|c| c.is_alphanumeric() || c == '_'),
        Some(c) => c.is_alphanumeric() || c == '_',
        None => false,
    }
}

fn block_comment(rest: &[char]) -> usize {
    let (mut depth, mut i) = (0, 0);
    while i < rest.len() {
        if rest[i..].starts_with(&['/', '*']) {
            depth += 1;
            i += 2;
        } else if rest[i..].starts_with(&['*', '/']) {
            depth -= 1;
            i += 2;
            if depth == 0 {
                break;
            }
        } else {
            i += 1;
        }
    }
    i
}

fn string(rest: &[char]) -> usize {
    let mut i = 1;
    while i < rest.len() && rest[i] != '"' {
        i += if rest[i] == '\\' { 2 } else { 1 };
    }
    (i + 1).min(rest.len())
}

/// How many `#` a raw string opens with, if one opens here.
fn raw_hashes(rest: &[char]) -> Option<usize> {
    let hashes = rest[1..].iter().take_while(|c| **c == '#').count();
    (rest.get(1 + hashes) == Some(&'"')).then_some(hashes)
}

fn raw_string(rest: &[char]) -> usize {
    let hashes = raw_hashes(rest).unwrap_or(0);
    let mut i = hashes + 2;
    while i < rest.len() {
        if rest[i] == '"' && rest[i + 1..].iter().take(hashes).filter(|c| **c == '#').count() == hashes {
            return i + 1 + hashes;
        }
        i += 1;
    }
    rest.len()
}

/// Length of a character literal; 0 for a lifetime.
fn character(rest: &[char]) -> usize {
    match (rest.get(1), rest.get(2)) {
        (Some('\\'), _) => {
            let closed = rest[3..].iter().position(|c| *c == '\'').map_or(0, |at| at + 4);
            closed.min(rest.len())
        }
        (Some(_), Some('\'')) => 3,
        _ => 0,
    }
}

#[test]
fn paths_are_found_in_use_trees_and_in_code_and_not_in_text() {
    let text = r###"
        mod tests { use super::*; use super::super::units; fn f() { { } } }
        //! crate::comment::no
        use crate::calc::{basis::{Basis, Rule}, units as u, self};
        use super::findings::Fault;
        /* crate::comment::no /* nested */ still */
        fn f<'a>(x: &'a str) -> char { crate::store::go("crate::text::no", r#"crate::raw::"no"#, '"', '\''); '/' }
    "###;
    let found = |module: &[&str]| -> Vec<String> {
        let module = module.iter().map(|part| (*part).to_owned()).collect();
        let source = Source { path: String::new(), module, text: blanked(text) };
        source.crate_paths().iter().map(|p| p.segments.join("::")).collect()
    };
    assert_eq!(
        found(&["http", "money"]),
        [
            "http::money",
            "http::units",
            "calc::basis::Basis",
            "calc::basis::Rule",
            "calc::units",
            "calc",
            "http::findings::Fault",
            "store::go",
        ]
    );
    // The calculation is a crate of its own, whose root is a folder of the house.
    assert_eq!(found(&["calc", "money"])[..3], ["calc::money", "calc::units", "calc::calc::basis::Basis"]);
}
