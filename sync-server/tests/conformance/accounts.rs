//! People, sign-ins, links, who sees which job, and what people did.

use chalkwalk_core::job::{JobId, Role};
use chalkwalk_sync_server::limits;
use chalkwalk_sync_server::store::{
    Access, Actor, Deed, DeedKind, DeedsOf, Joined, Mark, Marked, Once, Person, PersonId, Purpose,
    Share, ShareId, SignIn, StoreError, Swept, Window, paper_mark,
};

use crate::AccountsPlace;
use crate::sample::{device, job};

fn person(n: u8) -> Person {
    Person {
        id: PersonId([n; 16]),
        name: format!("Person {n}"),
        mail: n.is_multiple_of(2).then(|| format!("p{n}@office.example")),
        role: Role::Crew,
        password: None,
        made_at: 5,
        shut_out_at: None,
    }
}

fn sign_in(n: u8, of: u8, at: i64) -> SignIn {
    SignIn {
        hash: [n; 32],
        person: PersonId([of; 16]),
        made_at: at,
        seen_at: at,
    }
}

fn once(n: u8, purpose: Purpose) -> Once {
    Once {
        hash: [n; 32],
        purpose,
        made_at: 5,
        expires_at: 100,
    }
}

fn share(n: u8, of: JobId) -> Share {
    Share {
        id: ShareId([n; 16]),
        hash: [n; 32],
        job: of,
        note: format!("adjuster {n}"),
        made_by: PersonId([1; 16]),
        made_at: 5,
        expires_at: 100,
        withdrawn_at: None,
    }
}

pub(crate) async fn a_name_and_a_mail_address_open_one_account(place: &AccountsPlace) {
    let store = place.open();
    assert_eq!(store.add_person(&person(2)).await.unwrap(), Joined::Done);
    let mut same_name = person(3);
    same_name.name = " pERSON 2 ".into();
    let mut same_mail = person(4);
    same_mail.mail = Some("P2@OFFICE.example".into());
    for taken in [person(2), same_name, same_mail] {
        assert_eq!(store.add_person(&taken).await.unwrap(), Joined::Taken);
    }
    assert_eq!(store.add_person(&person(1)).await.unwrap(), Joined::Done);
    let store = place.open();
    for login in ["Person 2", " person 2", "p2@Office.Example"] {
        assert_eq!(
            store.person_called(login).await.unwrap(),
            Some(person(2)),
            "{login}"
        );
    }
    assert_eq!(
        store.person_called("p1@office.example").await.unwrap(),
        None
    );
    assert_eq!(store.person(person(1).id).await.unwrap(), Some(person(1)));
    assert_eq!(store.people().await.unwrap(), [person(1), person(2)]);
}

pub(crate) async fn what_is_said_of_a_person_is_kept(place: &AccountsPlace) {
    let store = place.open();
    store.add_person(&person(1)).await.unwrap();
    let id = person(1).id;
    assert!(store.set_password(id, "$argon2id$x").await.unwrap());
    assert!(store.set_role(id, Role::Admin).await.unwrap());
    assert!(store.set_shut_out(id, Some(7)).await.unwrap());
    let changed = Person {
        password: Some("$argon2id$x".into()),
        role: Role::Admin,
        shut_out_at: Some(7),
        ..person(1)
    };
    assert_eq!(place.open().person(id).await.unwrap(), Some(changed));
    assert!(store.set_shut_out(id, None).await.unwrap());
    assert_eq!(store.person(id).await.unwrap().unwrap().shut_out_at, None);
    let nobody = PersonId([9; 16]);
    assert!(!store.set_password(nobody, "x").await.unwrap());
    assert!(!store.set_role(nobody, Role::Admin).await.unwrap());
    assert!(!store.set_shut_out(nobody, Some(1)).await.unwrap());
}

pub(crate) async fn sign_ins_end_one_by_one_and_all(place: &AccountsPlace) {
    let store = place.open();
    for n in [1, 2] {
        store.add_person(&person(n)).await.unwrap();
    }
    for (n, of) in [(1, 1), (2, 1), (3, 1), (4, 2)] {
        store.put_sign_in(&sign_in(n, of, 10), 9).await.unwrap();
    }
    store.touch_sign_in([1; 32], 20).await.unwrap();
    store.touch_sign_in([1; 32], 15).await.unwrap();
    let store = place.open();
    let (found, who) = store.sign_in([1; 32]).await.unwrap().unwrap();
    assert_eq!((found.seen_at, found.made_at, who), (20, 10, person(1)));
    store.end_sign_in([1; 32]).await.unwrap();
    assert_eq!(store.sign_in([1; 32]).await.unwrap(), None);
    store
        .end_sign_ins(person(1).id, Some([3; 32]))
        .await
        .unwrap();
    assert_eq!(store.sign_in([2; 32]).await.unwrap(), None);
    assert!(store.sign_in([3; 32]).await.unwrap().is_some());
    store.set_shut_out(person(1).id, Some(5)).await.unwrap();
    assert_eq!(store.sign_in([3; 32]).await.unwrap(), None);
    assert!(store.sign_in([4; 32]).await.unwrap().is_some());
}

pub(crate) async fn the_longest_unused_sign_in_ends(place: &AccountsPlace) {
    let store = place.open();
    store.add_person(&person(1)).await.unwrap();
    for n in 1..=4 {
        store
            .put_sign_in(&sign_in(n, 1, i64::from(n)), 3)
            .await
            .unwrap();
    }
    assert_eq!(store.sign_in([1; 32]).await.unwrap(), None);
    for n in 2..=4 {
        assert!(store.sign_in([n; 32]).await.unwrap().is_some());
    }
}

pub(crate) async fn a_link_counts_once_and_in_time(place: &AccountsPlace) {
    let store = place.open();
    let purposes = [
        Purpose::Join(Role::Estimator),
        Purpose::FirstAdmin,
        Purpose::Enter(PersonId([3; 16])),
        Purpose::Password(PersonId([4; 16])),
    ];
    for (n, purpose) in (1..).zip(purposes) {
        store.put_once(&once(n, purpose)).await.unwrap();
    }
    let store = place.open();
    for (n, purpose) in (1..).zip(purposes) {
        assert_eq!(store.once([n; 32]).await.unwrap(), Some(once(n, purpose)));
    }
    store.withdraw_once(Purpose::FirstAdmin).await.unwrap();
    assert_eq!(store.once([2; 32]).await.unwrap(), None);
    assert_eq!(store.use_once([3; 32], 100).await.unwrap(), None);
    let (one, two) = tokio::join!(store.use_once([3; 32], 99), store.use_once([3; 32], 99));
    let used: Vec<Once> = [one.unwrap(), two.unwrap()].into_iter().flatten().collect();
    assert_eq!(used, [once(3, purposes[2])]);
    assert_eq!(store.use_once([9; 32], 5).await.unwrap(), None);
}

pub(crate) async fn joining_uses_the_link_up_or_changes_nothing(place: &AccountsPlace) {
    let store = place.open();
    store.put_once(&once(1, Purpose::FirstAdmin)).await.unwrap();
    store.add_person(&person(1)).await.unwrap();
    let join = |n: u8, at| {
        let (store, person) = (store.clone(), person(n));
        async move { store.join([1; 32], &person, at).await.unwrap() }
    };
    assert_eq!(join(1, 50).await, Joined::Taken);
    assert_eq!(join(2, 100).await, Joined::NoLink);
    assert_eq!(store.people().await.unwrap().len(), 1);
    assert_eq!(join(2, 99).await, Joined::Done);
    assert_eq!(join(3, 99).await, Joined::NoLink);
    assert_eq!(place.open().people().await.unwrap().len(), 2);
}

pub(crate) async fn shared_links_are_kept_by_job(place: &AccountsPlace) {
    let store = place.open();
    for (n, of) in [(1, job(1)), (2, job(2)), (3, job(1))] {
        store.put_share(&share(n, of)).await.unwrap();
    }
    assert!(
        !store
            .withdraw_share(job(2), ShareId([1; 16]), 50)
            .await
            .unwrap()
    );
    assert!(
        store
            .withdraw_share(job(1), ShareId([1; 16]), 50)
            .await
            .unwrap()
    );
    assert!(
        store
            .withdraw_share(job(1), ShareId([1; 16]), 60)
            .await
            .unwrap()
    );
    let withdrawn = Share {
        withdrawn_at: Some(50),
        ..share(1, job(1))
    };
    let store = place.open();
    let of_job = store.shares(job(1)).await.unwrap();
    assert_eq!(of_job, [withdrawn.clone(), share(3, job(1))]);
    assert_eq!(store.share([1; 32]).await.unwrap(), Some(withdrawn.clone()));
    assert_eq!(store.share([9; 32]).await.unwrap(), None);
    assert!(!withdrawn.counts(51) && share(3, job(1)).counts(99));
    assert!(!share(3, job(1)).counts(100));
}

pub(crate) async fn one_shared_link_too_many_is_refused(place: &AccountsPlace) {
    let store = place.open();
    for n in 0..limits::SHARES {
        let mut one = share(0, job(1));
        one.id = ShareId((n as u128).to_be_bytes());
        one.hash[..8].copy_from_slice(&(n as u64).to_be_bytes());
        store.put_share(&one).await.unwrap();
    }
    let more = store.put_share(&share(255, job(1))).await;
    assert!(matches!(more, Err(StoreError::Limit(_))));
    store.put_share(&share(255, job(2))).await.unwrap();
}

pub(crate) async fn one_person_too_many_is_refused(place: &AccountsPlace) {
    let store = place.open();
    let numbered = |n: usize| Person {
        id: PersonId((n as u128).to_be_bytes()),
        name: format!("Person {n}"),
        ..person(1)
    };
    for n in 0..limits::PEOPLE {
        store.add_person(&numbered(n)).await.unwrap();
    }
    let more = store.add_person(&numbered(limits::PEOPLE)).await;
    assert!(matches!(more, Err(StoreError::Limit(_))));
}

pub(crate) async fn who_sees_a_job_is_kept(place: &AccountsPlace) {
    let store = place.open();
    assert_eq!(store.access(job(1)).await.unwrap(), Access::default());
    for n in [1, 2] {
        store.assign(job(1), device(n).id, true).await.unwrap();
        store.assign(job(1), device(n).id, true).await.unwrap();
    }
    store.assign(job(1), device(1).id, false).await.unwrap();
    store.assign(job(3), device(1).id, true).await.unwrap();
    store.assign(job(3), device(1).id, false).await.unwrap();
    store.set_closed(job(2), Some(8)).await.unwrap();
    store.set_closed(job(2), Some(9)).await.unwrap();
    let store = place.open();
    let all = store.all_access().await.unwrap();
    assert_eq!(all.keys().copied().collect::<Vec<_>>(), [job(1), job(2)]);
    assert!(all[&job(1)].devices.contains(&device(2).id) && all[&job(1)].devices.len() == 1);
    assert_eq!(all[&job(2)].closed_at, Some(9));
    assert_eq!(store.access(job(1)).await.unwrap(), all[&job(1)]);
    let marked = |mark, at| Marked {
        mark,
        by: PersonId([1; 16]),
        at,
    };
    for word in [marked(Mark::Ready, 4), marked(Mark::HandedOn, 5)] {
        store.set_mark(job(2), Some(word)).await.unwrap();
        let store = place.open();
        assert_eq!(store.access(job(2)).await.unwrap().marked, Some(word));
        assert_eq!(
            store.all_access().await.unwrap()[&job(2)].marked,
            Some(word)
        );
    }
    store.set_mark(job(2), None).await.unwrap();
    store.set_closed(job(2), None).await.unwrap();
    assert_eq!(store.access(job(2)).await.unwrap(), Access::default());
}

pub(crate) async fn a_paper_is_replaced_only_by_whoever_saw_the_one_before(place: &AccountsPlace) {
    let store = place.open();
    assert_eq!(store.paper("prices").await.unwrap(), None);
    assert_eq!(store.papers_held().await.unwrap(), (0, 0));
    let late = store
        .replace_paper("prices", "0123456789abcdef", b"late")
        .await;
    assert!(!late.unwrap(), "there was none before");
    assert!(store.replace_paper("prices", "", b"one").await.unwrap());
    assert!(!store.replace_paper("prices", "", b"two").await.unwrap());
    let seen = paper_mark(Some(b"one"));
    assert!(
        store
            .replace_paper("prices", &seen, b"\0two")
            .await
            .unwrap()
    );
    assert!(
        !store
            .replace_paper("prices", &seen, b"three")
            .await
            .unwrap()
    );
    assert!(store.replace_paper("inputs-1", "", b"").await.unwrap());
    assert!(!store.replace_paper("inputs-1", "", b"again").await.unwrap());
    let store = place.open();
    assert_eq!(store.paper("prices").await.unwrap().unwrap(), b"\0two");
    assert_eq!(store.paper("inputs-1").await.unwrap().unwrap(), b"");
    assert_eq!(store.papers_held().await.unwrap(), (2, 4));
    // Of several at once one is first, and it stands whole.
    let tries = (0..8u8).map(|n| {
        let store = place.open();
        async move {
            store
                .replace_paper("theirs", "", &vec![n; 70_000])
                .await
                .unwrap()
        }
    });
    let first = futures_util::future::join_all(tries).await;
    assert_eq!(first.iter().filter(|first| **first).count(), 1);
    let stands = store.paper("theirs").await.unwrap().unwrap();
    assert_eq!(stands, vec![stands[0]; 70_000]);
    assert!(first[usize::from(stands[0])]);
}

pub(crate) async fn jobs_that_a_device_does_not_see_are_named(place: &AccountsPlace) {
    let store = place.open();
    store.assign(job(1), device(1).id, true).await.unwrap();
    store.assign(job(2), device(1).id, true).await.unwrap();
    store.assign(job(2), device(2).id, true).await.unwrap();
    store.set_closed(job(3), Some(8)).await.unwrap();
    store.assign(job(4), device(2).id, true).await.unwrap();
    store.set_closed(job(4), Some(8)).await.unwrap();
    store.assign(job(5), device(1).id, true).await.unwrap();
    store.assign(job(5), device(1).id, false).await.unwrap();
    let store = place.open();
    let hidden = store.hidden(device(2).id).await.unwrap();
    assert_eq!(hidden.into_iter().collect::<Vec<_>>(), [job(1), job(3)]);
    let hidden = store.hidden(device(1).id).await.unwrap();
    assert_eq!(hidden.into_iter().collect::<Vec<_>>(), [job(3), job(4)]);
}

pub(crate) async fn tries_are_counted_in_their_window(place: &AccountsPlace) {
    let store = place.open();
    let window = |now| Window { now, lasts: 100 };
    let key = [1; 32];
    assert_eq!(store.tries(key, 1_000).await.unwrap(), 0);
    for (now, by, there) in [(1_000, 1, 1), (1_050, 1, 2), (1_060, -1, 1), (1_099, 1, 2)] {
        let counted = store.count_tries(key, window(now), by).await.unwrap();
        assert_eq!(counted, there, "{now}");
    }
    assert_eq!(
        store.count_tries([2; 32], window(1_000), 1).await.unwrap(),
        1
    );
    let store = place.open();
    assert_eq!(store.tries(key, 1_099).await.unwrap(), 2);
    // The window that the first try began is over.
    assert_eq!(store.tries(key, 1_100).await.unwrap(), 0);
    assert_eq!(store.count_tries(key, window(1_100), -1).await.unwrap(), 0);
    assert_eq!(store.count_tries(key, window(1_150), 1).await.unwrap(), 1);
    assert_eq!(store.tries(key, 1_199).await.unwrap(), 1);
    let many = (0..8).map(|_| {
        let store = store.clone();
        tokio::spawn(async move { store.count_tries([3; 32], window(5), 1).await.unwrap() })
    });
    let mut seen = Vec::new();
    for one in many.collect::<Vec<_>>() {
        seen.push(one.await.unwrap());
    }
    seen.sort_unstable();
    assert_eq!(seen, (1..=8).collect::<Vec<u64>>());
}

pub(crate) async fn a_challenge_is_answered_once(place: &AccountsPlace) {
    let store = place.open();
    assert!(store.answer([1; 16], 100, 5).await.unwrap());
    let store = place.open();
    assert!(!store.answer([1; 16], 100, 6).await.unwrap());
    let (one, two) = tokio::join!(store.answer([2; 16], 100, 6), store.answer([2; 16], 100, 6));
    assert_ne!(one.unwrap(), two.unwrap());
    // Forgotten once its time is over, when no answer to it is taken any more.
    assert!(store.answer([3; 16], 300, 100).await.unwrap());
    assert!(store.answer([1; 16], 100, 101).await.unwrap());
}

pub(crate) async fn deeds_come_newest_first_in_pages(place: &AccountsPlace) {
    let store = place.open();
    let actors = [
        Actor::Office,
        Actor::Nobody,
        Actor::Person(PersonId([1; 16])),
        Actor::Device(device(1).id),
        Actor::Share(ShareId([2; 16])),
    ];
    let deeds: Vec<Deed> = (0i64..)
        .zip(DeedKind::ALL)
        .map(|(n, what)| Deed {
            at: 100 - n,
            who: actors[n as usize % actors.len()],
            what: *what,
            job: (n % 2 == 0).then_some(job(1)),
            about: format!("about {n}"),
        })
        .collect();
    for deed in &deeds {
        store.note(deed).await.unwrap();
    }
    let store = place.open();
    let mut read = Vec::new();
    let mut before = None;
    loop {
        let page = store.deeds(DeedsOf::ALL, before, 7).await.unwrap();
        assert!(page.len() <= 7);
        let Some((last, _)) = page.last() else { break };
        before = Some(*last);
        read.extend(page.into_iter().map(|(_, deed)| deed));
    }
    read.reverse();
    assert_eq!(read, deeds);
}

pub(crate) async fn deeds_are_narrowed_where_they_are_kept(place: &AccountsPlace) {
    let store = place.open();
    let people = [PersonId([1; 16]), PersonId([2; 16])];
    let kinds = [
        DeedKind::SawJob,
        DeedKind::SawOriginal,
        DeedKind::PacketMade,
    ];
    let deeds: Vec<Deed> = (0..240usize)
        .map(|n| Deed {
            at: n as i64,
            who: match n % 5 {
                0 => Actor::Office,
                // Another actor with the same number is somebody else.
                1 => Actor::Share(ShareId([1; 16])),
                n => Actor::Person(people[n % 2]),
            },
            what: kinds[n % 3],
            job: (n % 4 != 0).then(|| job((n % 2) as u8)),
            about: n.to_string(),
        })
        .collect();
    for deed in &deeds {
        store.note(deed).await.unwrap();
    }
    let store = place.open();
    for who in [None, Some(people[0]), Some(PersonId([9; 16]))] {
        for what in [None, Some(kinds[1]), Some(DeedKind::Swept)] {
            for about in [None, Some(job(1)), Some(job(9))] {
                let of = DeedsOf {
                    who,
                    what,
                    job: about,
                };
                let (mut read, mut before) = (Vec::new(), None);
                loop {
                    let page = store.deeds(of, before, 7).await.unwrap();
                    let Some((last, _)) = page.last() else { break };
                    before = Some(*last);
                    read.extend(page.into_iter().map(|(_, deed)| deed));
                }
                read.reverse();
                let wanted: Vec<Deed> = deeds
                    .iter()
                    .filter(|deed| of.takes(deed))
                    .cloned()
                    .collect();
                assert_eq!(read, wanted, "{of:?}");
            }
        }
    }
}

pub(crate) async fn sweeping_removes_what_ended_and_nothing_else(place: &AccountsPlace) {
    let store = place.open();
    store.add_person(&person(1)).await.unwrap();
    let now = limits::SIGN_IN_LIFE_MS + 1_000;
    let idle = now - limits::SIGN_IN_IDLE_MS;
    let mut old = sign_in(1, 1, now - limits::SIGN_IN_LIFE_MS);
    old.seen_at = now;
    let mut young = sign_in(4, 1, now - limits::SIGN_IN_LIFE_MS + 1);
    young.seen_at = now;
    for sign_in in [old, sign_in(2, 1, idle), sign_in(3, 1, idle + 1), young] {
        store.put_sign_in(&sign_in, 9).await.unwrap();
    }
    let mut late = once(2, Purpose::FirstAdmin);
    late.expires_at = now + 1;
    let mut over = once(1, Purpose::FirstAdmin);
    over.expires_at = now;
    for once in [over, late] {
        store.put_once(&once).await.unwrap();
    }
    store.put_share(&share(1, job(1))).await.unwrap();
    let swept = store.sweep(now).await.unwrap();
    assert_eq!(
        swept,
        Swept {
            sign_ins: 2,
            links: 1
        }
    );
    let store = place.open();
    for (n, there) in [(1, false), (2, false), (3, true), (4, true)] {
        let found = store.sign_in([n; 32]).await.unwrap();
        assert_eq!(found.is_some(), there, "{n}");
        assert!(found.is_none_or(|(sign_in, _)| sign_in.counts(now)));
    }
    assert!(store.once([2; 32]).await.unwrap().is_some());
    assert!(store.share([1; 32]).await.unwrap().is_some());
    assert_eq!(store.people().await.unwrap().len(), 1);
}
