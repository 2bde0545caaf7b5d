//! People: passwords, secrets that browsers and links hold, and one-time links.

mod links;
mod password;
mod secret;

pub use links::{
    FirstLink, OneTime, entry_link, first_link, invitation_link, make_once, password_link,
};
pub use password::{PasswordError, Passwords, weakness};
pub use secret::{Secret, hash_of};
