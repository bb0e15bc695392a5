//! The examples that are compiled in, and files in their place.

use std::path::Path;

/// Every compiled-in quote request by its name: the file's name in `api/examples` without its ending.
pub const EXAMPLES: &[(&str, &str)] = &[
    ("bay-boat", include_str!("../../../api/examples/bay-boat.json")),
    ("center-console-22", include_str!("../../../api/examples/center-console-22.json")),
    ("center-console-rigged", include_str!("../../../api/examples/center-console-rigged.json")),
    ("trolling-36v", include_str!("../../../api/examples/trolling-36v.json")),
    ("re-rig-yellow", include_str!("../../../api/examples/re-rig-yellow.json")),
    ("skiff", include_str!("../../../api/examples/skiff.json")),
    ("walkaround-28", include_str!("../../../api/examples/walkaround-28.json")),
    ("sailing-40", include_str!("../../../api/examples/sailing-40.json")),
    ("options", include_str!("../../../api/examples/options.json")),
    ("gap", include_str!("../../../api/examples/gap.json")),
];

/// The example that is sent when none is asked for.
pub const USUAL: &str = EXAMPLES[0].0;

/// No such example, and no such file.
#[derive(Debug, thiserror::Error)]
#[error(
    "'{wanted}' is no example and cannot be read as a file ({cause}): name one of {}, or the path of a file that holds \
     the body of a quote request",
    names()
)]
pub struct NoExample {
    wanted: String,
    cause: std::io::Error,
}

fn names() -> String {
    EXAMPLES.iter().map(|(name, _)| *name).collect::<Vec<_>>().join(", ")
}

/// The body of an example: a compiled-in one by its name, with or without `.json`, or a file by its path.
///
/// # Errors
/// [`NoExample`], which lists the names.
pub fn example(wanted: &str) -> Result<String, NoExample> {
    let name = wanted.strip_suffix(".json").unwrap_or(wanted);
    if let Some((_, body)) = EXAMPLES.iter().find(|(known, _)| *known == name) {
        return Ok((*body).to_owned());
    }
    std::fs::read_to_string(Path::new(wanted)).map_err(|cause| NoExample { wanted: wanted.to_owned(), cause })
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn an_example_is_found_by_its_name_and_an_unknown_one_says_what_there_is() {
        assert_eq!(example("gap").unwrap(), example("gap.json").unwrap());
        assert!(example(USUAL).unwrap().contains("Kittiwake"));
        let message = example("no-such-boat").unwrap_err().to_string();
        assert!(message.contains("'no-such-boat'") && message.contains("re-rig-yellow"), "{message}");
    }
}
