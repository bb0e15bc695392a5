//! Documents: values in, bytes out. A drawing or a page is made of what the calculation gave, and knows nothing else.

pub mod customer;
pub mod dash;
pub mod lists;
pub mod plan;
pub mod sheet;
mod svg;
