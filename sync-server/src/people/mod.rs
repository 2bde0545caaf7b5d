//! People: passwords, secrets that browsers and links hold, and one-time links.

mod links;
mod password;
mod secret;

pub use links::{
    FirstLink, OneTime, entry_link, entry_link_on, first_link, first_link_on, invitation_link,
    invitation_link_on, make_once, password_link, password_link_on,
};
pub use password::{PasswordError, Passwords, weakness};
pub use secret::{Secret, hash_of};
