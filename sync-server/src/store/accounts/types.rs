//! What is kept of people.

use std::collections::BTreeSet;
use std::fmt;
use std::str::FromStr;

use chalkwalk_core::job::{DeviceId, JobId, Millis, Role, hex, unhex};

macro_rules! random_id {
    ($(#[$meta:meta])* $name:ident) => {
        $(#[$meta])*
        #[derive(Clone, Copy, Debug, PartialEq, Eq, PartialOrd, Ord)]
        pub struct $name(pub [u8; 16]);

        impl fmt::Display for $name {
            fn fmt(&self, f: &mut fmt::Formatter<'_>) -> fmt::Result {
                f.write_str(&hex(&self.0))
            }
        }

        impl FromStr for $name {
            type Err = &'static str;
            fn from_str(text: &str) -> Result<Self, Self::Err> {
                unhex(text)
                    .and_then(|bytes| bytes.try_into().ok())
                    .map(Self)
                    .ok_or("not an id of 32 hexadecimal digits")
            }
        }
    };
}

random_id!(
    /// One person.
    PersonId
);
random_id!(
    /// One shared link, as pages name it. It opens nothing.
    ShareId
);

/// Somebody who signs in to the pages.
#[derive(Clone, Debug, PartialEq, Eq)]
pub struct Person {
    /// The person.
    pub id: PersonId,
    /// The name, by which the person may sign in.
    pub name: String,
    /// The mail address, by which the person may sign in as well.
    pub mail: Option<String>,
    /// What the person may do.
    pub role: Role,
    /// Hash of the password in PHC form; none where the person has only a one-time link.
    pub password: Option<String>,
    /// When the person joined.
    pub made_at: Millis,
    /// Set where the person may no longer sign in.
    pub shut_out_at: Option<Millis>,
}

impl Person {
    /// A name or mail address as it is compared: without case and outer spaces.
    pub fn folded(login: &str) -> String {
        login.trim().to_lowercase()
    }
}

/// A browser in which a person is signed in.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub struct SignIn {
    /// Hash of the 256 random bits that the browser holds.
    pub hash: [u8; 32],
    /// The person.
    pub person: PersonId,
    /// When it began.
    pub made_at: Millis,
    /// When it was last used, to a few minutes.
    pub seen_at: Millis,
}

/// A link that counts once.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub struct Once {
    /// Hash of its token.
    pub hash: [u8; 32],
    /// What it is for.
    pub purpose: Purpose,
    /// When it was made.
    pub made_at: Millis,
    /// The first moment at which it no longer counts.
    pub expires_at: Millis,
}

/// What a one-time link is for.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub enum Purpose {
    /// To join as a further person in this role.
    Join(Role),
    /// To join as the first admin.
    FirstAdmin,
    /// To sign in as this person.
    Enter(PersonId),
    /// To set a new password for this person.
    Password(PersonId),
}

/// What became of adding a person.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub enum Joined {
    /// The person is known now.
    Done,
    /// Somebody has this name or mail address.
    Taken,
    /// The link was used, is unknown, or its time is over.
    NoLink,
}

/// A read-only link to one job for somebody outside.
#[derive(Clone, Debug, PartialEq, Eq)]
pub struct Share {
    /// What pages call it.
    pub id: ShareId,
    /// Hash of its token.
    pub hash: [u8; 32],
    /// The job it shows.
    pub job: JobId,
    /// Whom it is for, in the words of who made it.
    pub note: String,
    /// Who made it.
    pub made_by: PersonId,
    /// When.
    pub made_at: Millis,
    /// The first moment at which it no longer counts.
    pub expires_at: Millis,
    /// Set where it was withdrawn.
    pub withdrawn_at: Option<Millis>,
}

impl Share {
    /// Whether it shows the job at this moment.
    pub fn counts(&self, now: Millis) -> bool {
        self.withdrawn_at.is_none() && now < self.expires_at
    }
}

/// Which devices see a job.
#[derive(Clone, Debug, Default, PartialEq, Eq)]
pub struct Access {
    /// Set where the office closed the job.
    pub closed_at: Option<Millis>,
    /// Devices assigned to it.
    pub devices: BTreeSet<DeviceId>,
    /// How far the office says it has come.
    pub marked: Option<Marked>,
}

/// The office's own word on a job. It is no part of the record: nothing is seen or measured by it.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub struct Marked {
    /// The word.
    pub mark: Mark,
    /// Who said so.
    pub by: PersonId,
    /// When.
    pub at: Millis,
}

/// How far the office has come with a job.
#[derive(Clone, Copy, Debug, PartialEq, Eq, PartialOrd, Ord)]
pub enum Mark {
    /// Looked through and settled.
    Ready,
    /// Gone on to whoever does the work.
    HandedOn,
}

impl Mark {
    /// The word that is stored.
    pub const fn code(self) -> &'static str {
        match self {
            Mark::Ready => "ready",
            Mark::HandedOn => "handed_on",
        }
    }

    /// The mark with this word.
    pub fn from_code(code: &str) -> Option<Self> {
        [Mark::Ready, Mark::HandedOn]
            .into_iter()
            .find(|mark| mark.code() == code)
    }
}

/// Who did something.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub enum Actor {
    /// The server itself, or a command on its machine.
    Office,
    /// Somebody who was not signed in.
    Nobody,
    /// A person.
    Person(PersonId),
    /// A device.
    Device(DeviceId),
    /// Whoever holds a shared link.
    Share(ShareId),
}

/// Something a person saw or did.
#[derive(Clone, Debug, PartialEq, Eq)]
pub struct Deed {
    /// When.
    pub at: Millis,
    /// Who.
    pub who: Actor,
    /// What.
    pub what: DeedKind,
    /// The job it is about.
    pub job: Option<JobId>,
    /// What it was done to, as an id or a word.
    pub about: String,
}

/// Which deeds are asked for; what is left open narrows nothing.
#[derive(Clone, Copy, Debug, Default, PartialEq, Eq)]
pub struct DeedsOf {
    /// Those of one person.
    pub who: Option<PersonId>,
    /// Those of one kind.
    pub what: Option<DeedKind>,
    /// Those about one job.
    pub job: Option<JobId>,
}

impl DeedsOf {
    /// All deeds.
    pub const ALL: Self = Self {
        who: None,
        what: None,
        job: None,
    };

    /// Whether a deed is among them.
    pub fn takes(&self, deed: &Deed) -> bool {
        let by = self.who.is_none_or(|who| deed.who == Actor::Person(who));
        let of = self.what.is_none_or(|what| deed.what == what);
        by && of && self.job.is_none_or(|job| deed.job == Some(job))
    }
}

macro_rules! deeds {
    ($($variant:ident = $code:literal, $words:literal;)*) => {
        /// What a person saw or did.
        #[derive(Clone, Copy, Debug, PartialEq, Eq, PartialOrd, Ord)]
        #[non_exhaustive]
        pub enum DeedKind {
            $( #[doc = $words] $variant, )*
        }

        impl DeedKind {
            /// Every kind.
            pub const ALL: &'static [DeedKind] = &[$( DeedKind::$variant ),*];

            /// The word that is stored.
            pub const fn code(self) -> &'static str {
                match self { $( DeedKind::$variant => $code ),* }
            }

            /// The words that people read.
            pub const fn words(self) -> &'static str {
                match self { $( DeedKind::$variant => $words ),* }
            }

            /// The kind with this word.
            pub fn from_code(code: &str) -> Option<Self> {
                match code { $( $code => Some(DeedKind::$variant), )* _ => None }
            }
        }
    };
}

deeds! {
    LinkMade = "link_made", "made a one-time link";
    Joined = "joined", "joined";
    SignedIn = "signed_in", "signed in";
    SignInFailed = "sign_in_failed", "was refused at sign-in";
    SignedOut = "signed_out", "signed out";
    SignedOutEverywhere = "signed_out_everywhere", "signed out everywhere";
    PasswordChanged = "password_changed", "changed a password";
    RoleChanged = "role_changed", "changed a role";
    ShutOut = "shut_out", "shut a person out";
    LetIn = "let_in", "let a person in again";
    SawJob = "saw_job", "looked at a job";
    SawOriginal = "saw_original", "opened an original photo";
    SawAudit = "saw_audit", "looked at this list";
    CodeMade = "code_made", "made a code for a device";
    DeviceRevoked = "device_revoked", "shut a device out";
    DeviceReinstated = "device_reinstated", "let a device in again";
    DeviceLost = "device_lost", "reported a device lost";
    Assigned = "assigned", "assigned a device to a job";
    Unassigned = "unassigned", "took a device off a job";
    JobClosed = "job_closed", "closed a job";
    JobOpened = "job_opened", "opened a job again";
    JobReady = "job_ready", "said that a job is ready";
    JobHandedOn = "job_handed_on", "handed a job on";
    MarkTaken = "mark_taken", "took back the word on a job";
    ShareMade = "share_made", "made a shared link";
    ShareWithdrawn = "share_withdrawn", "withdrew a shared link";
    ShareOpened = "share_opened", "opened a shared link";
    ShareOriginal = "share_original", "opened an original through a shared link";
    PacketMade = "packet_made", "asked for a packet";
    PacketFetched = "packet_fetched", "fetched a packet or its tables";
    ShareFetched = "share_fetched", "fetched a packet or its tables through a shared link";
    ShareRefused = "share_refused", "was refused at a shared link";
    TokenGiven = "token_given", "was given a token for uploads";
    PhotoPut = "photo_put", "handed in a photo over HTTP";
    PricesKept = "prices_kept", "put a price list in place";
    InputsSet = "inputs_set", "set what a scope is made with";
    TookCopy = "took_copy", "took a copy of a job";
    Swept = "swept", "removed what the retention rule names";
}

/// What was removed.
#[derive(Clone, Copy, Debug, Default, PartialEq, Eq)]
pub struct Swept {
    /// Sign-ins that no longer counted.
    pub sign_ins: u64,
    /// One-time links whose time was over.
    pub links: u64,
}

impl SignIn {
    /// Whether it counts at this moment: used lately, and not begun too long ago.
    pub fn counts(&self, now: Millis) -> bool {
        now >= self.made_at
            && now.saturating_sub(self.seen_at) < crate::limits::SIGN_IN_IDLE_MS
            && now.saturating_sub(self.made_at) < crate::limits::SIGN_IN_LIFE_MS
    }
}

/// A window in which tries are counted.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub struct Window {
    /// This moment.
    pub now: Millis,
    /// How long a window lasts, milliseconds.
    pub lasts: Millis,
}

impl Window {
    /// The first moment after a window that begins now.
    pub fn ends(self) -> Millis {
        self.now.saturating_add(self.lasts)
    }
}

/// The names that open a person's account, as they are compared, each once.
pub(in crate::store) fn logins(person: &Person) -> Vec<String> {
    let mut logins: Vec<String> = std::iter::once(&person.name)
        .chain(&person.mail)
        .map(|login| Person::folded(login))
        .collect();
    logins.sort();
    logins.dedup();
    logins
}
