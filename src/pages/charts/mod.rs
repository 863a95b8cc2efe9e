//! Charts as SVG: dots with intervals on a line of zero, and what else shows a figure's place. Each stands beside a
//! table of the same figures; nothing in one is told by colour alone, and nothing is cut.

mod dots;
mod history;
mod level;
mod made;
mod picture;
mod scatter;
mod season;
mod svg;

pub use dots::{Dot, by_hole, dots};
pub use history::{Differential, history};
pub use level::level;
pub use made::made;
pub use picture::picture;
pub use scatter::strikes;
pub use season::season;
pub use svg::Words;
pub(super) use svg::escaped;
