//! Random people who act and exchange.

use proptest::prelude::*;

use super::*;

/// What a random person does next: always on records that this device holds.
fn random_action(device: &Device, choice: u8, which: u8, value: u8) -> Action {
    let findings: Vec<_> = device
        .document
        .job()
        .records
        .findings
        .keys()
        .cloned()
        .collect();
    let fresh = || -> RecordId {
        format!(
            "r{}-{}",
            device.author.device.as_bytes()[0],
            device.rows.len()
        )
        .parse()
        .unwrap()
    };
    let Some(id) = findings
        .get(usize::from(which) % findings.len().max(1))
        .cloned()
    else {
        let record = dents(Condition::Damaged).into();
        return Action::Add {
            id: fresh(),
            record,
            hits: Some(1),
            shows: vec![],
        };
    };
    let at = RecordRef::new(Kind::Finding, id.clone());
    let conflict = device.document.job().conflicts().into_iter().next();
    match choice % 7 {
        0 | 1 => Action::Add {
            id: fresh(),
            record: dents(Condition::ALL[usize::from(value) % Condition::ALL.len()]).into(),
            hits: None,
            shows: vec![],
        },
        2 => Action::Count {
            at,
            hits: u32::from(value),
        },
        3 => Action::Strike {
            at,
            reason: format!("reason {value}"),
        },
        4 => Action::Reinstate { at },
        5 if conflict.is_some() => {
            let (at, conflict) = conflict.unwrap();
            let n = usize::from(value) % conflict.statements.len();
            Action::Settle {
                at,
                field: conflict.field.clone(),
                value: conflict.statements[n].value.clone(),
            }
        }
        _ => Action::Amend {
            id,
            set: Finding {
                cause: Some(Cause::ALL[usize::from(value) % Cause::ALL.len()]),
                units: (value.is_multiple_of(3)).then_some(u32::from(value)),
                ..Finding::default()
            }
            .into(),
            clear: if value.is_multiple_of(5) {
                vec!["text".into()]
            } else {
                vec![]
            },
        },
    }
}

proptest! {
    #![proptest_config(ProptestConfig::with_cases(96))]

    /// Three devices act and exchange in any order, batches twice over; at the end all hold the same.
    #[test]
    fn any_order_converges(steps in prop::collection::vec((0u8..3, 0u8..9, any::<u8>(), any::<u8>()), 1..28)) {
        let mut devices = [Device::new(1), Device::new(2), Device::new(3)];
        let keys = keys(&[&devices[0], &devices[1], &devices[2]]);
        let exchange = |devices: &mut [Device; 3], from: usize, to: usize| {
            let table = devices[to].document.table();
            let lacking: Vec<_> = devices[from].rows.iter().filter(|row| {
                table.get(&row.author).is_none_or(|held| held.number < row.number)
            }).cloned().collect();
            devices[to].take(&lacking, &keys);
            devices[to].take(&lacking, &keys);
        };
        for (who, choice, which, value) in steps {
            let who = usize::from(who);
            if choice > 6 {
                let other = (who + 1 + usize::from(which) % 2) % 3;
                exchange(&mut devices, who, other);
                continue;
            }
            let action = random_action(&devices[who], choice, which, value);
            // A mistake is refused and changes nothing; anything else is kept.
            let _ = devices[who].act(&action);
        }
        for (from, to) in [(0, 1), (1, 2), (2, 0), (0, 1), (1, 2)] {
            exchange(&mut devices, from, to);
        }
        for device in &devices[1..] {
            prop_assert_eq!(device.document.heads(), devices[0].document.heads());
            prop_assert_eq!(device.document.job(), devices[0].document.job());
        }
    }
}
