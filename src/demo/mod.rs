//! Demo projects, invented from beginning to end and made again byte by byte.
//!
//! Nothing in them is typed by hand. Each is built with the same commands that a grower gives, at fixed invented
//! dates, and every figure is drawn from a generator (PCG 64, [`rand_pcg::Pcg64`]) with a fixed seed. There is no
//! clock and no other source of chance, so a demo is the same on every machine and on every day.
//!
//! How the figures are drawn:
//! - An ear's true cold germination is drawn from a beta distribution with the parameters 5.5 and 1.8: a mean of
//!   75 % and a standard deviation of 15 points.
//! - Its vigor is correlated with that by 0.5. Its maturity days depend on its row, on chance, and a little on its
//!   germination: early ears had longer to dry and germinate better, which is how a grower comes to select
//!   early ears while believing to select cold-hardy ones.
//! - Each kernel of a cell then germinates, or not, by chance. What has emerged at the early count is part of what
//!   has germinated at the final one.
//! - `corvane-flint` has ears that inherit; its module says how.
//!
//! Names of places and persons are invented; every project's name begins with 'DEMO'.

mod corvane_flint;
mod dice;
mod essel_thaw;
mod growth;
mod loggers;
mod pocket_starter;
mod sized;
mod weather;
mod work;

use crate::model::Project;

pub use sized::sized;

/// The names of the demo projects, smallest first.
pub const NAMES: [&str; 3] = ["pocket-starter", "essel-thaw", "corvane-flint"];

/// Gives the files of the two temperature loggers of `essel-thaw`, each with its name: one of the shelf, one of the tray
/// on the floor. Their readings are in the demo already.
pub fn logger_files() -> [(&'static str, String); 2] {
    essel_thaw::logger_files()
}

/// Makes the demo project of this name; `None` when there is none.
///
/// # Panics
/// Never: the commands depend on nothing outside, and a test runs them all.
pub fn make(name: &str) -> Option<Project> {
    let made = match name {
        "pocket-starter" => pocket_starter::make(),
        "essel-thaw" => essel_thaw::make(),
        "corvane-flint" => corvane_flint::make(),
        _ => return None,
    };
    Some(made.expect("the commands of a demo depend on nothing outside, and a test runs them all"))
}
