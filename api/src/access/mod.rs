//! Who asks, what he may do, and what he is shown.
//!
//! An [`Asker`] comes out of a request's credentials at the [`Gate`]: a [`Token`] of the store, or a token of an identity
//! provider (OpenID Connect). His [`Grants`] say which [`Role`] he has at which site, and make the [`Audience`] that his
//! catalogue is for.

mod asker;
mod audience;
mod cell;
mod gate;
mod grants;
mod jobs;
mod ledger;
mod openid;
mod rate;
mod role;
mod token;

pub use asker::{Asker, Denied};
pub use audience::{Audience, NoAudience, View};
pub use cell::{CELL_M, cell_centre};
pub use gate::{Gate, Knock, Terms, end_of};
pub use grants::{Grants, NoGrant};
pub use ledger::Ledger;
pub use openid::{OpenId, OpenIdFault};
pub use rate::Rates;
pub use role::{NoRole, Role};
pub use token::{Digest, Secret, Token};
