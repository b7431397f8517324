//! `wear-api export` and `wear-api import`.

use std::io::Write as _;
use std::process::{Output, Stdio};

use wear_api::transfer::TableKind;
use wear_tests::{TestStore, on_both_stores, program};

on_both_stores!(a_workshop_moves_by_command, a_wrong_file_fails_and_says_where, no_workshop_is_made);

fn run(store: &TestStore, arguments: &[&str], workshop: &str, input: &[u8]) -> Output {
    let mut child = program()
        .args(arguments)
        .args(["--database-url", &store.url, "--workshop", workshop])
        .stdin(Stdio::piped())
        .stdout(Stdio::piped())
        .stderr(Stdio::piped())
        .spawn()
        .expect("the program starts");
    child.stdin.take().expect("its input").write_all(input).expect("written");
    child.wait_with_output().expect("the program ends")
}

fn text(bytes: &[u8]) -> String {
    String::from_utf8(bytes.to_vec()).expect("UTF-8")
}

fn workshop(store: &TestStore, name: &str) {
    let made = run(store, &["token", "--role", "manager"], name, b"");
    assert!(made.status.success(), "{}", text(&made.stderr));
}

const BIKES: &[u8] = b"label,group,use,rings,cogs,links,fitted_on\n041,town-8s,town,42,11-13-15-17-20-23-26-30,114,2026-01-01\n=042,road,road,50-34,11-12-13-14-15-17-19-21-24-27-30,110,2026-01-01\n";

const RIDES: &[u8] = b"\xef\xbb\xbfbike;started_at;distance_km;source;source_id\r\n041;2026-02-01T08:00:00Z;18,4;log;1\r\n041;2026-02-02T08:00:00Z;18,4;log;2\r\n";

const ORDER: [&str; 8] = ["part-models", "bikes", "parts", "readings", "swaps", "care", "odometer", "rides"];

async fn a_workshop_moves_by_command(store: TestStore) {
    workshop(&store, "Harbour");
    workshop(&store, "Hill");
    for (kind, table, said) in [
        ("bikes", BIKES, "bikes: 2 lines, 2 new, 0 changed, 0 known\n"),
        ("rides", RIDES, "rides: 2 lines, 2 new, 0 changed, 0 known\n"),
        ("rides", RIDES, "rides: 2 lines, 0 new, 0 changed, 2 known\n"),
    ] {
        let tried = run(&store, &["import", kind, "--dry-run"], "Harbour", table);
        assert_eq!(text(&tried.stdout), said.replacen("lines, ", "lines, would be ", 1));
        let done = run(&store, &["import", kind], "Harbour", table);
        assert_eq!((text(&done.stdout), text(&done.stderr)), (said.to_owned(), String::new()));
    }
    let all = |workshop: &str| -> Vec<Vec<u8>> {
        ORDER.iter().map(|kind| run(&store, &["export", kind], workshop, b"").stdout).collect()
    };
    let there = all("Harbour");
    for (kind, table) in ORDER.iter().zip(&there) {
        let done = run(&store, &["import", kind], "Hill", table);
        assert!(done.status.success(), "{kind} {}", text(&done.stderr));
    }
    let sorted = |tables: Vec<Vec<u8>>| -> Vec<Vec<String>> {
        tables
            .iter()
            .map(|table| {
                let mut lines: Vec<String> = text(table).lines().map(str::to_owned).collect();
                lines.sort();
                lines
            })
            .collect()
    };
    assert_eq!(sorted(all("Hill")), sorted(there));
    assert_eq!(TableKind::ALL.len(), ORDER.len());
}

async fn a_wrong_file_fails_and_says_where(store: TestStore) {
    workshop(&store, "Harbour");
    let wrong = b"label,group,use,rings,cogs,links\n041,town-8s,town,42,11-13-15,114\n042,town-8s,boat,42,11-13-15,7\n";
    for arguments in [&["import", "bikes", "--dry-run"][..], &["import", "bikes"]] {
        let refused = run(&store, arguments, "Harbour", wrong);
        assert_eq!(refused.status.code(), Some(1));
        let said = text(&refused.stderr);
        assert!(said.starts_with("line 3, use is \"boat\"; allowed: "), "{said}");
        assert!(said.contains("\nline 3, links is 7; allowed: "), "{said}");
        assert!(said.ends_with("\nbikes: 2 mistakes; nothing was changed\n"), "{said}");
    }
    let bikes = text(&run(&store, &["export", "bikes"], "Harbour", b"").stdout);
    assert_eq!(bikes.lines().count(), 1, "{bikes}");
}

async fn no_workshop_is_made(store: TestStore) {
    workshop(&store, "Harbour");
    for arguments in [&["import", "bikes"][..], &["export", "bikes"]] {
        let refused = run(&store, arguments, "Habour", BIKES);
        assert_eq!(refused.status.code(), Some(1));
        assert_eq!(text(&refused.stderr), "there is no workshop named Habour\n");
    }
}
