//! What the end-to-end tests are told with: the real program, a store of its own for each story, a
//! server that ends with the story, and a client.

mod answer;
mod browser;
pub mod cove;
mod holder;
mod line;
pub mod processes;
mod program;
mod schemas;
mod server;
mod sheet;
mod store;
mod waiting;

pub use answer::{Answer, Client};
pub use browser::Browser;
pub use holder::Holder;
pub use line::Line;
pub use program::{Ran, gdal, program, ran};
pub use schemas::{Schema, problem};
pub use server::Server;
pub use sheet::{features, numbers, walk};
pub use store::Ledger;
pub use waiting::until;
