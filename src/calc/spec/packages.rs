//! What is in a package, its inner packages included.

use crate::shop::package::Package;
use crate::units::Name;

/// Why a package cannot be opened.
#[derive(Clone, Debug, PartialEq, Eq)]
pub enum PackageFault {
    /// Nothing by that code.
    Unknown(Name),
    /// The package contains itself, by this path.
    Cycle(Vec<Name>),
    /// It opens into more packages than [`OPENED_MOST`].
    TooMany,
}

/// Packages within packages double quickly; no shop's package opens into more than this.
pub const OPENED_MOST: usize = 500;

/// The package of a code and all that it contains, outermost first; one that is reached twice stands there twice.
///
/// # Errors
/// An unknown code, a package that contains itself, or one that opens into too many.
pub fn expand<'a>(code: &Name, packages: &'a [Package]) -> Result<Vec<&'a Package>, PackageFault> {
    let mut opened = Vec::new();
    open(code, packages, &mut Vec::new(), &mut opened)?;
    Ok(opened)
}

fn open<'a>(
    code: &Name,
    packages: &'a [Package],
    path: &mut Vec<Name>,
    opened: &mut Vec<&'a Package>,
) -> Result<(), PackageFault> {
    let cycle = path.contains(code);
    path.push(code.clone());
    if cycle {
        return Err(PackageFault::Cycle(path.clone()));
    }
    if opened.len() == OPENED_MOST {
        return Err(PackageFault::TooMany);
    }
    let package = packages.iter().find(|p| p.code == *code).ok_or_else(|| PackageFault::Unknown(code.clone()))?;
    opened.push(package);
    for inner in &package.packages {
        open(inner, packages, path, opened)?;
    }
    path.pop();
    Ok(())
}
