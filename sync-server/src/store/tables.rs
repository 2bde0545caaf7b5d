//! Every table of an office, column by column: what is carried from one database to another.

use chalkwalk_core::job::DeviceId;

/// What a column holds.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub(crate) enum Kind {
    Bytes,
    Number,
    Text,
}

/// A value of a column.
#[derive(Clone, Debug, PartialEq, Eq)]
pub(crate) enum Value {
    Nothing,
    Bytes(Vec<u8>),
    Number(i64),
    Text(String),
}

/// A row, in the order of its table's columns.
pub(crate) type Row = Vec<Value>;

/// A table and the order in which its rows are compared.
#[derive(Debug)]
pub(crate) struct Table {
    pub(crate) name: &'static str,
    pub(crate) columns: &'static [(&'static str, Kind)],
    pub(crate) key: &'static [&'static str],
}

use Kind::{Bytes, Number, Text};

/// Changes in causal order of each job.
pub(crate) const CHANGE: &Table = &Table {
    name: "change",
    columns: &[
        ("job", Bytes),
        ("place", Number),
        ("author", Bytes),
        ("number", Number),
        ("hash", Bytes),
        ("signature", Bytes),
        ("bytes", Bytes),
    ],
    key: &["job", "place"],
};

/// Files that are whole.
pub(crate) const BLOB: &Table = &Table {
    name: "blob",
    columns: &[
        ("kind", Text),
        ("hash", Bytes),
        ("size", Number),
        ("complete_at", Number),
    ],
    key: &["kind", "hash"],
};

/// Every table of records. A test holds it against the tables that there are.
pub(crate) const TABLES: &[&Table] = &[
    CHANGE,
    &Table {
        name: "device",
        columns: &[
            ("id", Bytes),
            ("key", Bytes),
            ("certificate", Bytes),
            ("certificate_signature", Bytes),
            ("known_since", Number),
            ("revoked_at", Number),
        ],
        key: &["id"],
    },
    &Table {
        name: "code",
        columns: &[
            ("hash", Bytes),
            ("role", Text),
            ("person", Text),
            ("made_at", Number),
            ("expires_at", Number),
            ("used_by", Bytes),
        ],
        key: &["hash"],
    },
    &Table {
        name: "author",
        columns: &[
            ("job", Bytes),
            ("author", Bytes),
            ("number", Number),
            ("hash", Bytes),
        ],
        key: &["job", "author"],
    },
    &Table {
        name: "job",
        columns: &[
            ("id", Bytes),
            ("changes", Number),
            ("first_news", Number),
            ("last_news", Number),
        ],
        key: &["id"],
    },
    &Table {
        name: "summary",
        columns: &[
            ("job", Bytes),
            ("title", Text),
            ("date_of_loss", Text),
            ("findings", Number),
            ("photos", Number),
            ("read_at", Number),
            ("owner", Text),
            ("questions", Number),
            ("crew", Number),
        ],
        key: &["job"],
    },
    &Table {
        name: "photo",
        columns: &[
            ("job", Bytes),
            ("hash", Bytes),
            ("ordinal", Number),
            ("size", Number),
            ("role", Text),
        ],
        key: &["job", "hash"],
    },
    BLOB,
    &Table {
        name: "snapshot",
        columns: &[
            ("job", Bytes),
            ("held", Bytes),
            ("heads", Bytes),
            ("bytes", Bytes),
            ("made_at", Number),
        ],
        key: &["job"],
    },
    &Table {
        name: "peer",
        columns: &[
            ("job", Bytes),
            ("device", Bytes),
            ("held", Bytes),
            ("at", Number),
        ],
        key: &["job", "device"],
    },
    &Table {
        name: "audit",
        columns: &[
            ("seq", Number),
            ("at", Number),
            ("what", Text),
            ("device", Bytes),
            ("job", Bytes),
            ("detail", Text),
        ],
        key: &["seq"],
    },
    // Last: an office is there once its company is.
    &Table {
        name: "company",
        columns: &[
            ("only_one", Number),
            ("id", Bytes),
            ("name", Text),
            ("office_key", Bytes),
            ("founded_at", Number),
        ],
        key: &["only_one"],
    },
];

/// Every table of accounts that is carried, in an order in which each names only rows of those
/// before it. Tries and answered challenges are of minutes and are not.
pub(crate) const ACCOUNTS: &[&Table] = &[
    &Table {
        name: "person",
        columns: &[
            ("id", Bytes),
            ("name", Text),
            ("mail", Text),
            ("role", Text),
            ("password", Text),
            ("made_at", Number),
            ("shut_out_at", Number),
        ],
        key: &["id"],
    },
    &Table {
        name: "login",
        columns: &[("folded", Text), ("person", Bytes)],
        key: &["folded"],
    },
    SIGN_IN,
    ONCE,
    &Table {
        name: "share",
        columns: &[
            ("seq", Number),
            ("id", Bytes),
            ("hash", Bytes),
            ("job", Bytes),
            ("note", Text),
            ("made_by", Bytes),
            ("made_at", Number),
            ("expires_at", Number),
            ("withdrawn_at", Number),
        ],
        key: &["seq"],
    },
    &Table {
        name: "closed",
        columns: &[("job", Bytes), ("at", Number)],
        key: &["job"],
    },
    &Table {
        name: "assigned",
        columns: &[("job", Bytes), ("device", Bytes)],
        key: &["job", "device"],
    },
    &Table {
        name: "mark",
        columns: &[
            ("job", Bytes),
            ("mark", Text),
            ("person", Bytes),
            ("at", Number),
        ],
        key: &["job"],
    },
    &Table {
        name: "paper",
        columns: &[("name", Text), ("mark", Text), ("bytes", Bytes)],
        key: &["name"],
    },
    DEED,
];

/// Sign-ins that count.
const SIGN_IN: &Table = &Table {
    name: "sign_in",
    columns: &[
        ("hash", Bytes),
        ("person", Bytes),
        ("made_at", Number),
        ("seen_at", Number),
    ],
    key: &["hash"],
};

/// One-time links that nobody used yet.
const ONCE: &Table = &Table {
    name: "once",
    columns: &[
        ("hash", Bytes),
        ("purpose", Text),
        ("about", Bytes),
        ("made_at", Number),
        ("expires_at", Number),
    ],
    key: &["hash"],
};

/// What people did.
pub(crate) const DEED: &Table = &Table {
    name: "deed",
    columns: &[
        ("seq", Number),
        ("at", Number),
        ("who", Text),
        ("who_id", Bytes),
        ("what", Text),
        ("job", Bytes),
        ("about", Text),
    ],
    key: &["seq"],
};

impl Table {
    /// Whether its rows open the office to whoever holds what they are the hashes of: not for a
    /// backup, as they would count again after a restore.
    pub(crate) fn opens(&self) -> bool {
        self.name == SIGN_IN.name || self.name == ONCE.name
    }

    /// The columns, as a statement lists them.
    pub(crate) fn list(&self) -> String {
        let names: Vec<&str> = self.columns.iter().map(|(name, _)| *name).collect();
        names.join(", ")
    }

    /// Where the key's columns stand.
    pub(crate) fn key_at(&self) -> Vec<usize> {
        let at = |key: &&str| self.columns.iter().position(|(name, _)| name == key);
        self.key.iter().filter_map(at).collect()
    }
}

/// Rows of one table, counted and summed up in their order.
#[derive(Clone, Debug)]
pub(crate) struct Sum {
    pub(crate) rows: u64,
    hasher: blake3::Hasher,
}

impl Sum {
    pub(crate) fn new() -> Self {
        Self {
            rows: 0,
            hasher: blake3::Hasher::new(),
        }
    }

    pub(crate) fn add(&mut self, row: &Row) {
        self.rows += 1;
        for value in row {
            match value {
                Value::Nothing => self.part(0, &[]),
                Value::Bytes(bytes) => self.part(1, bytes),
                Value::Number(number) => self.part(2, &number.to_be_bytes()),
                Value::Text(text) => self.part(3, text.as_bytes()),
            }
        }
    }

    fn part(&mut self, kind: u8, bytes: &[u8]) {
        self.hasher.update(&[kind]);
        self.hasher.update(&(bytes.len() as u64).to_be_bytes());
        self.hasher.update(bytes);
    }
}

impl PartialEq for Sum {
    fn eq(&self, other: &Self) -> bool {
        self.rows == other.rows && self.hasher.finalize() == other.hasher.finalize()
    }
}

/// Bytes that a row takes, about.
pub(crate) fn weight(row: &Row) -> usize {
    row.iter()
        .map(|value| match value {
            Value::Bytes(bytes) => bytes.len(),
            Value::Text(text) => text.len(),
            Value::Nothing | Value::Number(_) => 8,
        })
        .sum()
}

pub(crate) fn as_bytes(row: &Row, column: usize) -> Option<&[u8]> {
    match row.get(column) {
        Some(Value::Bytes(bytes)) => Some(bytes),
        _ => None,
    }
}

pub(crate) fn as_number(row: &Row, column: usize) -> Option<i64> {
    match row.get(column) {
        Some(Value::Number(number)) => Some(*number),
        _ => None,
    }
}

pub(crate) fn as_text(row: &Row, column: usize) -> Option<&str> {
    match row.get(column) {
        Some(Value::Text(text)) => Some(text),
        _ => None,
    }
}

/// The id and key of a row of `device`.
pub(crate) fn device_key(row: &Row) -> Option<(DeviceId, [u8; 32])> {
    let id: [u8; 16] = as_bytes(row, 0)?.try_into().ok()?;
    let key: [u8; 32] = as_bytes(row, 1)?.try_into().ok()?;
    Some((DeviceId::from_bytes(id), key))
}
