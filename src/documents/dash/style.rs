//! How lines, areas and text look, in black and white.

pub(super) const STYLE: &str = "\
text{font-family:Helvetica,Arial,'Liberation Sans',sans-serif;font-size:13px;fill:#111}\
.page{fill:#fff}.title{font-size:20px;font-weight:bold}.note{font-size:14px}\
.small{font-size:12px}.head{font-weight:bold}.alarm{font-weight:bold}\
.halo{paint-order:stroke;stroke:#fff;stroke-width:4px;stroke-linejoin:round}\
.mark{font-size:19px;font-weight:bold;paint-order:stroke;stroke:#fff;stroke-width:4px;stroke-linejoin:round}\
.face{fill:#f4f4f4;stroke:#111;stroke-width:2.5;stroke-linejoin:round}\
.part{fill:#fff;stroke:#111;stroke-width:2}\
.cut{fill:none;stroke:#111;stroke-width:1.2;stroke-dasharray:6 4}\
.cross{fill:none;stroke:#111;stroke-width:1.2}\
.centre{fill:none;stroke:#111;stroke-width:1.2;stroke-dasharray:22 5 4 5}\
.keep-out{fill:#fff;stroke:#555;stroke-width:1.4}.hatch{fill:none;stroke:#999;stroke-width:.8}\
.reserved{fill:#fff;stroke:#555;stroke-width:1.2;stroke-dasharray:3 4}\
.old{fill:#d6d6d6;stroke:#333;stroke-width:1.2;stroke-dasharray:2 2}\
.plate{fill:none;stroke:#333;stroke-width:1.6;stroke-dasharray:12 4}\
.extension{fill:none;stroke:#8a8a8a;stroke-width:.7}\
.ruler{fill:none;stroke:#111;stroke-width:1.2}\
.row{fill:none;stroke:#bbb;stroke-width:.8}";
