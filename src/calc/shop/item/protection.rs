//! Forms of fuses, and what protects a branch.

use serde::{Deserialize, Serialize};
use utoipa::ToSchema;

/// Fuse families, by form.
#[derive(Clone, Copy, Debug, PartialEq, Eq, PartialOrd, Ord, Hash, Serialize, Deserialize, ToSchema)]
#[serde(rename_all = "snake_case")]
pub enum FuseFamily {
    /// Regular blade fuse (ISO 8820-3 type C).
    Blade,
    /// Maxi blade fuse (ISO 8820-3 type E).
    MaxiBlade,
    /// Glass tube, 1/4 by 1 1/4 in.
    GlassTube,
    /// Cube on a battery or bus stud.
    TerminalCube,
    /// Bolt-down strip, M5 studs.
    SmallBolt,
    /// Bolt-down strip, M8 studs.
    LargeBolt,
    /// ANL bolt-down.
    Anl,
    /// Class T.
    ClassT,
}

impl FuseFamily {
    /// The family as it is written in JSON.
    pub const fn word(self) -> &'static str {
        match self {
            FuseFamily::Blade => "blade",
            FuseFamily::MaxiBlade => "maxi_blade",
            FuseFamily::GlassTube => "glass_tube",
            FuseFamily::TerminalCube => "terminal_cube",
            FuseFamily::SmallBolt => "small_bolt",
            FuseFamily::LargeBolt => "large_bolt",
            FuseFamily::Anl => "anl",
            FuseFamily::ClassT => "class_t",
        }
    }
}

/// What protects a branch at a panel.
#[derive(Clone, Copy, Debug, PartialEq, Eq, PartialOrd, Ord, Hash, Serialize, Deserialize, ToSchema)]
#[serde(rename_all = "snake_case")]
pub enum BranchProtection {
    /// A blade fuse in the panel's own holder.
    BladeFuse,
    /// A breaker in the panel.
    Breaker,
}
