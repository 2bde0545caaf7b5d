//! The JSON Schema of the reports. The file is made from the columns of the entries by a test,
//! which fails where the two differ.

/// The JSON Schema (draft 2020-12) of every report, as it lies in each bag.
pub const SCHEMA: &str = include_str!("../../../schema/report.schema.json");

/// The schema's file name in a bag.
pub const SCHEMA_FILE: &str = "report.schema.json";

#[cfg(test)]
mod tests {
    use serde_json::{Map, Value, json};

    use super::super::table::{CellKind, Line};
    use super::super::*;
    use super::*;

    fn entry<L: Line>() -> Value {
        let mut properties = Map::new();
        let mut required = Vec::new();
        for column in L::COLUMNS {
            let mut value = match column.kind {
                CellKind::Text => json!({"type": "string"}),
                CellKind::Count => json!({"type": "integer", "minimum": 0}),
                CellKind::Number => json!({"type": "number"}),
                CellKind::Day => json!({"type": "string", "format": "date"}),
                CellKind::Moment => json!({"type": "string", "format": "date-time"}),
                CellKind::Flag => json!({"type": "boolean"}),
                CellKind::List => json!({"type": "array", "items": {"type": "string"}}),
            };
            if column.office {
                value["description"] = format!("{}; for the office only", column.title).into();
            } else {
                value["description"] = column.title.into();
                required.push(column.key);
                if column.may_be_empty {
                    value["type"] = json!([value["type"], "null"]);
                }
            }
            properties.insert(column.key.to_owned(), value);
        }
        json!({"type": "object", "properties": properties, "required": required,
            "additionalProperties": false})
    }

    fn lines(of: &str) -> Value {
        json!({"type": "array", "items": {"$ref": format!("#/$defs/{of}")}})
    }

    fn report(name: &str, parts: &[(&str, Value)]) -> Value {
        let mut properties = Map::new();
        properties.insert("format".to_owned(), json!({"const": FORMAT}));
        properties.insert("report".to_owned(), json!({"const": name}));
        properties.insert("head".to_owned(), json!({"$ref": "#/$defs/head"}));
        for (key, value) in parts {
            properties.insert((*key).to_owned(), value.clone());
        }
        let required: Vec<&String> = properties.keys().collect();
        json!({"type": "object", "properties": properties, "required": required,
            "additionalProperties": false})
    }

    fn head_of() -> Value {
        let texts = json!({"type": "array", "items": {"type": "string"}});
        json!({"type": "object", "additionalProperties": false,
        "required": ["title", "company", "address", "date_of_loss", "visited",
            "recorded_by", "statement", "made_at"],
        "properties": {
            "title": {"type": "string"}, "company": {"type": "string"},
            "address": {"type": "string"},
            "date_of_loss": {"type": ["string", "null"], "format": "date"},
            "visited": {"type": "array", "items": {"type": "string", "format": "date"}},
            "recorded_by": texts, "statement": {"type": "string"},
            "made_at": {"type": "string", "format": "date-time"},
        }})
    }

    fn told_of() -> Value {
        let texts = json!({"type": "array", "items": {"type": "string"}});
        json!({"type": "object", "additionalProperties": false,
                    "required": ["text", "from", "photos"],
                    "properties": {"text": {"type": "string"}, "from": {"type": "array"},
                        "photos": texts,
                        "certainty": {"enum": ["known", "confirm", "unknown"]}}})
    }

    fn account_of() -> Value {
        let texts = json!({"type": "array", "items": {"type": "string"}});
        json!({"type": "object", "additionalProperties": false,
        "required": ["address", "days", "looked_at", "observed", "before", "unsure",
            "next", "cautions", "signature", "no_promise"],
        "properties": {
            "address": {"type": "string"}, "days": texts,
            "looked_at": lines("told"), "before": lines("told"),
            "unsure": lines("told"), "next": texts, "cautions": texts,
            "observed": {"type": "array", "items": {"type": "object",
                "required": ["name", "lines"], "additionalProperties": false,
                "properties": {"name": {"type": "string"}, "lines": lines("told")}}},
            "signature": {"type": "object", "additionalProperties": false,
                "required": ["signed_by", "means"],
                "properties": {"signed_by": texts, "means": {"type": "string"}}},
            "no_promise": {"type": "string"},
        }})
    }

    fn sheet_of() -> Value {
        json!({"type": "object", "additionalProperties": false,
        "required": ["address", "contact", "materials", "deck", "layers", "obstacles",
            "confirm_at_tear_off", "access", "prior_conditions", "paint_to_match",
            "detach_and_reset", "cautions", "deference"],
        "properties": {
            "address": {"type": "string"},
            "contact": {"type": ["object", "null"]},
            "materials": {"type": "array", "items": {"type": "object"}},
            "materials_from": {"type": "array"},
            "materials_refused": {"type": ["string", "null"]},
            "deck": lines("told"), "layers": lines("told"),
            "obstacles": lines("told"), "confirm_at_tear_off": lines("told"),
            "access": lines("told"), "prior_conditions": lines("told"),
            "paint_to_match": lines("told"), "detach_and_reset": lines("told"),
            "cautions": {"type": "array", "items": {"type": "object"}},
            "deference": {"type": "string"},
        }})
    }

    fn schema() -> Value {
        let account = json!({"$ref": "#/$defs/account"});
        let sheet = json!({"$ref": "#/$defs/sheet"});
        let insurers = [
            ("places", lines("place")),
            ("findings", lines("finding")),
            ("components", lines("component")),
            ("scope", lines("scope")),
            ("scope_totals", lines("scope_total")),
            ("disputes", lines("dispute")),
            ("measurements", lines("measurement")),
            ("test_squares", lines("test_square")),
            ("storm_reports", lines("storm_report")),
            ("requirements", lines("requirement")),
            ("confirm", lines("confirm")),
            ("photos", lines("photo")),
        ];
        let production = [
            ("sheet", sheet.clone()),
            ("materials", lines("material")),
            ("sheet_lines", lines("sheet_line")),
        ];
        let mut estimators = insurers.to_vec();
        estimators.extend(production.clone());
        estimators.extend([
            ("comparison", lines("comparison")),
            ("doubts", lines("doubt")),
            ("account", account.clone()),
        ]);
        let photos = ("photos", lines("photo"));
        let [sheets, materials, sheet_lines] = production;
        json!({
            "$schema": "https://json-schema.org/draft/2020-12/schema",
            "title": "Report of a storm inspection",
            "oneOf": [
                report("insurers_packet", &insurers),
                report("owners_account", &[("account", account), photos.clone()]),
                report("production_sheet", &[sheets, materials, sheet_lines, photos]),
                report("estimators_file", &estimators),
            ],
            "$defs": {
                "head": head_of(),
                "place": entry::<PlaceEntry>(),
                "finding": entry::<FindingEntry>(),
                "component": entry::<ComponentEntry>(),
                "scope": entry::<ScopeEntry>(),
                "scope_total": entry::<TotalEntry>(),
                "comparison": entry::<ComparisonEntry>(),
                "dispute": entry::<DisputeEntry>(),
                "measurement": entry::<MeasurementEntry>(),
                "test_square": entry::<SquareEntry>(),
                "storm_report": entry::<StormEntry>(),
                "requirement": entry::<RequirementEntry>(),
                "confirm": entry::<ConfirmEntry>(),
                "photo": entry::<PhotoEntry>(),
                "doubt": entry::<DoubtEntry>(),
                "material": entry::<MaterialEntry>(),
                "sheet_line": entry::<SheetEntry>(),
                "told": told_of(),
                "account": account_of(),
                "sheet": sheet_of(),
            },
        })
    }

    // JSON Schema, draft 2020-12; the packets of the demo are held against the file by PyPI's
    // `jsonschema` in tests/outside. `INSTA_UPDATE=always` writes the file anew.
    #[test]
    fn the_schema_is_that_of_the_entries() {
        let made = serde_json::to_string_pretty(&schema()).unwrap() + "\n";
        if std::env::var("INSTA_UPDATE").is_ok_and(|how| how == "always") {
            let path = concat!(env!("CARGO_MANIFEST_DIR"), "/schema/report.schema.json");
            std::fs::write(path, &made).unwrap();
        }
        assert!(
            made == SCHEMA,
            "core/schema/report.schema.json is not that of the entries"
        );
    }
}
