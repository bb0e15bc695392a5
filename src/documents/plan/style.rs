//! How lines, marks and text look.

pub(super) const STYLE: &str = "\
text{font-family:Helvetica,Arial,'Liberation Sans',sans-serif;font-size:13px;fill:#1d2733}\
.page{fill:#fff}.title{font-size:20px;font-weight:bold}.note{font-size:14px;fill:#8a3b12}\
.small{font-size:12px;fill:#4a5563}\
.label{paint-order:stroke;stroke:#fff;stroke-width:4px;stroke-linejoin:round}\
.hull{fill:#f3efe4;stroke:#30363d;stroke-width:2.5;stroke-linejoin:round}\
.tube{fill:#d5dbe1;stroke:#7b858f;stroke-width:1.5}\
.under{fill:none;stroke:#9aa3ab;stroke-width:1.2;stroke-dasharray:3 4}\
.sole{fill:#fbfaf5;stroke:#a39c8a;stroke-width:1.2;stroke-linejoin:round}\
.deck{fill:none;stroke:#a39c8a;stroke-width:1.2}\
.raised{fill:#e4e8ea;stroke:#87919a;stroke-width:1.4;stroke-linejoin:round}\
.glass{fill:none;stroke:#5b8fae;stroke-width:3;stroke-linejoin:round;stroke-linecap:round}\
.top{fill:none;stroke:#87919a;stroke-width:1.3;stroke-dasharray:7 5}\
.rail{fill:none;stroke:#87919a;stroke-width:2.5}\
.rib{fill:none;stroke:#c4bda9;stroke-width:1}\
.motor{fill:#59626b;stroke:#30363d;stroke-width:2}\
.mast{fill:#30363d;stroke:#30363d}.boom{fill:none;stroke:#59626b;stroke-width:5;stroke-linecap:round}\
.rigging{fill:none;stroke:#9aa3ab;stroke-width:1}.wheel{fill:none;stroke:#30363d;stroke-width:3}\
.net{fill:none;stroke:#b9c1c8;stroke-width:1}.beam{fill:none;stroke:#59626b;stroke-width:6}\
.run{fill:none;stroke-width:2.6;stroke-linejoin:round}\
.open{stroke:#217346}.tube-run{stroke:#1f5fa8;stroke-dasharray:11 4}\
.gunwale{stroke:#b3591b;stroke-dasharray:5 3}.blind{stroke:#8b3a8b;stroke-dasharray:2 3}\
.route{fill:none;stroke:#ffd21f;stroke-width:10;stroke-linejoin:round;stroke-linecap:round;opacity:.85}\
.leader{fill:none;stroke:#8d97a1;stroke-width:.8}\
.station{stroke:#1d2733;stroke-width:1.6}.vapour-no{fill:#fff}.vapour-unknown{fill:#f2a93b}.vapour-yes{fill:#d8352a}";
