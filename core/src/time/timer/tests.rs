//! Timers as pure steps. What real documents make of them is tested with the record.

use proptest::prelude::*;

use super::*;

const MIN: i64 = 60_000;
const START: i64 = 1_000_000;

fn at(ms: i64) -> Moment {
    Moment { ms, within_ms: Some(0) }
}

fn node(ms: i64, step: Step, after: &[usize]) -> Node {
    Node { at: at(ms), step: Some(step), after: after.to_vec() }
}

fn started(minutes: i64) -> Node {
    node(START, Step::Started { from: at(START), length_ms: minutes * MIN }, &[])
}

fn plus(minute: i64, minutes: i64, after: &[usize]) -> Node {
    node(START + minute * MIN, Step::Extended { by_ms: minutes * MIN }, after)
}

fn does(minute: i64, step: Step, after: &[usize]) -> Node {
    node(START + minute * MIN, step, after)
}

/// Minutes after the start at which it would ring, the phase, and what is open.
fn read(rule: Rule, nodes: &[Node]) -> (i64, Phase, Vec<usize>) {
    let schedule = evaluate(rule, nodes).unwrap();
    ((schedule.stands.due_ms - START) / MIN, schedule.stands.phase, schedule.open)
}

#[test]
fn steps_that_knew_of_each_other_add_up() {
    let nodes = [
        started(30),
        plus(10, 5, &[0]),
        plus(12, 5, &[1]),
        does(20, Step::Paused, &[2]),
        does(23, Step::Resumed, &[3]),
    ];
    assert_eq!(read(Rule::Earliest, &nodes), (43, Phase::Running, vec![]));
    let mut shorter = nodes.to_vec();
    shorter.push(does(24, Step::LengthSet { length_ms: 25 * MIN }, &[4]));
    assert_eq!(read(Rule::Earliest, &shorter), (28, Phase::Running, vec![]));
}

#[test]
fn a_pause_keeps_what_is_left_and_an_extension_adds_to_it() {
    let left = |nodes: &[Node]| match evaluate(Rule::Earliest, nodes).unwrap().stands.phase {
        Phase::Paused { left_ms, .. } => left_ms / MIN,
        other => panic!("not paused: {other:?}"),
    };
    let mut nodes = vec![started(30), does(20, Step::Paused, &[0])];
    assert_eq!(left(&nodes), 10);
    nodes.push(plus(50, 5, &[1]));
    assert_eq!(left(&nodes), 15);
    nodes.push(does(60, Step::LengthSet { length_ms: 22 * MIN }, &[2]));
    assert_eq!(left(&nodes), 2);
    nodes.push(does(70, Step::Resumed, &[3]));
    assert_eq!(read(Rule::Earliest, &nodes), (72, Phase::Running, vec![]));
}

#[test]
fn a_stop_that_is_taken_back_leaves_the_alarm_where_it_was() {
    let nodes = [started(30), does(10, Step::Stopped, &[0]), does(15, Step::Resumed, &[1])];
    assert_eq!(read(Rule::Earliest, &nodes), (30, Phase::Running, vec![]));
}

#[test]
fn five_minutes_twice_apart_is_a_question_and_not_ten() {
    let nodes = [started(30), plus(20, 5, &[0]), plus(21, 5, &[0])];
    assert_eq!(read(Rule::Earliest, &nodes), (35, Phase::Running, vec![1, 2]));
}

#[test]
fn the_earliest_of_several_extensions_rings() {
    let nodes = [started(30), plus(20, 10, &[0]), plus(21, 5, &[0]), plus(22, 2, &[1])];
    assert_eq!(read(Rule::Earliest, &nodes), (35, Phase::Running, vec![1, 2, 3]));
    let branches = evaluate(Rule::Earliest, &nodes).unwrap().branches;
    let dues: Vec<(usize, i64)> = branches.iter().map(|(p, c)| (*p, (c.due_ms - START) / MIN)).collect();
    assert_eq!(dues, [(2, 35), (3, 42)]);
}

#[test]
fn a_stop_that_did_not_know_of_an_extension_does_not_win() {
    let nodes = [started(30), does(20, Step::Stopped, &[0]), plus(21, 5, &[0])];
    assert_eq!(read(Rule::Earliest, &nodes), (30, Phase::Running, vec![1, 2]));
}

#[test]
fn a_stop_that_knew_of_everything_ends_it() {
    let nodes = [started(30), plus(20, 5, &[0]), plus(21, 5, &[0]), does(22, Step::Stopped, &[1, 2])];
    let stopped = Phase::Stopped { at_ms: START + 22 * MIN };
    assert_eq!(read(Rule::Earliest, &nodes), (35, stopped, vec![]));
}

#[test]
fn two_stops_agree() {
    let nodes =
        [started(30), does(20, Step::Stopped, &[0]), plus(21, 5, &[0]), does(25, Step::Stopped, &[2])];
    let stopped = Phase::Stopped { at_ms: START + 20 * MIN };
    assert_eq!(read(Rule::Earliest, &nodes), (30, stopped, vec![]));
}

#[test]
fn the_same_pause_made_twice_is_no_question() {
    let nodes = [started(30), does(10, Step::Paused, &[0]), does(11, Step::Paused, &[0])];
    let paused = Phase::Paused { at_ms: START + 11 * MIN, left_ms: 19 * MIN };
    assert_eq!(read(Rule::Earliest, &nodes), (30, paused, vec![]));
}

#[test]
fn a_pause_apart_from_an_extension_keeps_the_alarm_it_would_have_had() {
    let nodes = [started(30), does(10, Step::Paused, &[0]), plus(12, 5, &[0])];
    assert_eq!(read(Rule::Earliest, &nodes), (30, Phase::Running, vec![1, 2]));
}

#[test]
fn a_question_stays_open_through_what_does_not_answer_it() {
    let mut nodes = vec![started(30), plus(20, 5, &[0]), plus(21, 10, &[0]), plus(22, 1, &[1, 2])];
    assert_eq!(read(Rule::Earliest, &nodes), (36, Phase::Running, vec![1, 2]));
    nodes.push(does(23, Step::Settled(Outcome::Ring { due_ms: START + 40 * MIN }), &[3]));
    assert_eq!(read(Rule::Earliest, &nodes), (40, Phase::Running, vec![]));
}

#[test]
fn a_settling_that_did_not_know_of_an_edit_does_not_settle_it() {
    let settled = Step::Settled(Outcome::Ring { due_ms: START + 45 * MIN });
    let nodes = [
        started(30),
        plus(20, 5, &[0]),
        plus(21, 10, &[0]),
        does(23, settled, &[1, 2]),
        does(24, Step::LengthSet { length_ms: 33 * MIN }, &[1]),
    ];
    assert_eq!(read(Rule::Earliest, &nodes), (33, Phase::Running, vec![2, 3, 4]));
}

#[test]
fn two_who_settle_alike_have_settled() {
    let settled = Step::Settled(Outcome::Ring { due_ms: START + 35 * MIN });
    let nodes = [
        started(30),
        plus(20, 5, &[0]),
        plus(21, 10, &[0]),
        does(23, settled, &[1, 2]),
        does(24, settled, &[1, 2]),
    ];
    assert_eq!(read(Rule::Earliest, &nodes), (35, Phase::Running, vec![]));
}

#[test]
fn what_says_nothing_of_the_schedule_never_branches_it() {
    let quiet = |minute: i64, after: &[usize]| Node {
        at: at(START + minute * MIN),
        step: None,
        after: after.to_vec(),
    };
    let nodes = [started(30), quiet(30, &[0]), plus(31, 5, &[0]), quiet(32, &[1, 2]), quiet(33, &[0])];
    assert_eq!(read(Rule::Earliest, &nodes), (35, Phase::Running, vec![]));
}

#[test]
fn an_alert_test_is_readable_at_the_latest_candidate() {
    let nodes = [started(2880), plus(20, 60, &[0]), plus(21, 30, &[0])];
    assert_eq!(read(Rule::Latest, &nodes), (2940, Phase::Running, vec![1, 2]));
}

#[test]
fn a_stop_or_a_pause_apart_does_not_make_an_alert_test_readable() {
    let stopped = [started(2880), does(20, Step::Stopped, &[0]), plus(21, 30, &[0])];
    assert_eq!(read(Rule::Latest, &stopped), (2910, Phase::Running, vec![1, 2]));
    let paused = [started(2880), does(20, Step::Paused, &[0]), plus(21, 30, &[0])];
    let (_, phase, open) = read(Rule::Latest, &paused);
    assert_eq!(phase, Phase::Paused { at_ms: START + 20 * MIN, left_ms: 2890 * MIN });
    assert_eq!(open, [1, 2]);
}

#[test]
fn a_clock_that_runs_behind_does_not_make_more_time_of_a_pause() {
    let paused = node(START - 90 * MIN, Step::Paused, &[0]);
    let nodes = [started(30), paused, does(10, Step::Resumed, &[1])];
    assert_eq!(read(Rule::Earliest, &nodes).0, 40);
    // And for a test that must not be read early it does not make less of it.
    let early = node(START - 90 * MIN, Step::Resumed, &[1]);
    let nodes = [started(2880), does(10, Step::Paused, &[0]), early];
    assert_eq!(read(Rule::Latest, &nodes).0, 2880);
}

#[test]
fn doubt_about_the_clocks_adds_up_and_unknown_stays_unknown() {
    let with = |within_ms: [Option<i64>; 3]| {
        let mut nodes = vec![started(30), does(10, Step::Paused, &[0]), does(12, Step::Resumed, &[1])];
        for (node, within_ms) in nodes.iter_mut().zip(within_ms) {
            node.at.within_ms = within_ms;
        }
        nodes[0].step =
            Some(Step::Started { from: Moment { ms: START, within_ms: within_ms[0] }, length_ms: 30 * MIN });
        evaluate(Rule::Earliest, &nodes).unwrap().stands.within_ms
    };
    assert_eq!(with([Some(20), Some(30), Some(40)]), Some(90));
    assert_eq!(with([None, Some(30), Some(40)]), None);
    assert_eq!(with([Some(20), Some(30), None]), None);
}

#[test]
fn an_alert_test_counts_from_the_latest_that_its_start_can_have_been() {
    let from = Moment { ms: START, within_ms: Some(30_000) };
    let nodes = [Node { at: from, step: Some(Step::Started { from, length_ms: 60 * MIN }), after: vec![] }];
    let due = |rule| evaluate(rule, &nodes).unwrap().stands.due_ms - START;
    assert_eq!(due(Rule::Latest), 60 * MIN + 30_000);
    assert_eq!(due(Rule::Earliest), 60 * MIN);
}

#[test]
fn without_a_start_nothing_rings() {
    assert_eq!(evaluate(Rule::Earliest, &[]), None);
    assert_eq!(evaluate(Rule::Earliest, &[plus(1, 5, &[]), does(2, Step::Stopped, &[0])]), None);
    // Two that began apart under one name: the earlier alarm, and a question.
    let mut other = started(20);
    other.at = at(START + 2 * MIN);
    let both = [started(30), other];
    assert_eq!(read(Rule::Earliest, &both), (20, Phase::Running, vec![0, 1]));
}

/// One branch by itself, for checking: a path of steps from the start, told in its own way. `None` once it is stopped
/// and as long as nobody resumed it. Beside it, when it would ring had it not been stopped or paused.
fn path(rule: Rule, steps: &[(i64, Step)]) -> (Option<Option<i64>>, i64) {
    let (mut from, mut due, mut paused, mut stopped) = (0, 0, None::<(i64, i64)>, false);
    for (ms, step) in steps {
        match *step {
            Step::Started { from: start, length_ms } => {
                if due == 0 {
                    (from, due) = (start.ms, start.ms + length_ms);
                }
            }
            Step::Extended { by_ms } => {
                due += by_ms;
                paused = paused.map(|(at, left)| (at, left + by_ms));
            }
            Step::LengthSet { length_ms } => {
                due = from + length_ms;
                paused = paused.map(|(at, _)| (at, due - at));
            }
            // Who pauses what a stop by somebody else has not ended means it to stand still.
            Step::Paused => paused = paused.or(Some((*ms, due - ms))),
            Step::Resumed => {
                if let Some((at, left)) = paused.take() {
                    (from, due) = (from + ms - at, ms + left);
                }
                stopped = false;
            }
            Step::Stopped => {
                if rule == Rule::Latest
                    && let Some((_, left)) = paused
                {
                    due = due.max(ms + left);
                }
                (stopped, paused) = (true, None);
            }
            Step::Settled(Outcome::Ring { due_ms }) => (due, paused, stopped) = (due_ms, None, false),
            Step::Settled(Outcome::Paused { left_ms }) => {
                (due, paused, stopped) = (ms + left_ms, Some((*ms, left_ms)), false);
            }
            Step::Settled(Outcome::Stopped) => (stopped, paused) = (true, None),
        }
    }
    ((!stopped).then_some(paused.map(|(_, left)| left)), due)
}

/// Every way from a start to one of the newest steps along what authors knew.
fn paths(nodes: &[Node]) -> Vec<Vec<(i64, Step)>> {
    fn up(nodes: &[Node], here: usize) -> Vec<Vec<(i64, Step)>> {
        let node = &nodes[here];
        let mut all: Vec<Vec<(i64, Step)>> = node.after.iter().flat_map(|p| up(nodes, *p)).collect();
        if all.is_empty() {
            all.push(Vec::new());
        }
        for path in &mut all {
            path.extend(node.step.map(|step| (node.at.ms, step)));
        }
        all
    }
    let newest = (0..nodes.len()).filter(|n| nodes.iter().all(|other| !other.after.contains(n)));
    let mut all: Vec<Vec<(i64, Step)>> = newest.flat_map(|n| up(nodes, n)).collect();
    // A branch that ends in steps that say nothing of the schedule is no branch of it: drop what another path goes on.
    all.sort_by_key(|path| std::cmp::Reverse(path.len()));
    let mut kept: Vec<Vec<(i64, Step)>> = Vec::new();
    for path in all {
        if !kept.iter().any(|longer| longer.starts_with(&path)) {
            kept.push(path);
        }
    }
    kept
}

/// Which nodes each node's author knew, itself included.
fn known(nodes: &[Node]) -> Vec<std::collections::BTreeSet<usize>> {
    let mut known: Vec<std::collections::BTreeSet<usize>> = Vec::new();
    for (position, node) in nodes.iter().enumerate() {
        let mut set: std::collections::BTreeSet<usize> =
            node.after.iter().flat_map(|p| known[*p].clone()).collect();
        set.insert(position);
        known.push(set);
    }
    known
}

fn any_step() -> impl Strategy<Value = Step> {
    prop_oneof![
        4 => (1..20_i64).prop_map(|m| Step::Extended { by_ms: m * MIN }),
        2 => (1..60_i64).prop_map(|m| Step::LengthSet { length_ms: m * MIN }),
        3 => Just(Step::Paused),
        3 => Just(Step::Resumed),
        2 => Just(Step::Stopped),
        1 => (1..90_i64).prop_map(|m| Step::Settled(Outcome::Ring { due_ms: START + m * MIN })),
        1 => (1..30_i64).prop_map(|m| Step::Settled(Outcome::Paused { left_ms: m * MIN })),
    ]
}

/// A start and steps after it, each of which knows some of the earlier ones, by clocks that agree.
fn any_nodes() -> impl Strategy<Value = Vec<Node>> {
    let steps = prop::collection::vec((any_step(), any::<u16>(), 1..6_i64), 0..8);
    steps.prop_map(|steps| {
        let mut nodes = vec![started(30)];
        let mut clock = START;
        for (step, mask, minutes) in steps {
            clock += minutes * MIN;
            let seen: Vec<usize> = (0..nodes.len()).filter(|n| mask & (1 << n) != 0).collect();
            let seen = if seen.is_empty() { vec![0] } else { seen };
            let known = known(&nodes);
            let newest: Vec<usize> = seen
                .iter()
                .copied()
                .filter(|s| !seen.iter().any(|other| other != s && known[*other].contains(s)))
                .collect();
            nodes.push(node(clock, step, &newest));
        }
        nodes
    })
}

/// The same steps in another order that is possible.
fn reordered(nodes: &[Node], seed: u64) -> (Vec<Node>, Vec<usize>) {
    let mut left: Vec<usize> = (0..nodes.len()).collect();
    let (mut order, mut state) = (Vec::new(), seed);
    while !left.is_empty() {
        let ready: Vec<usize> =
            left.iter().copied().filter(|n| nodes[*n].after.iter().all(|p| order.contains(p))).collect();
        state = state.wrapping_mul(6_364_136_223_846_793_005).wrapping_add(1_442_695_040_888_963_407);
        let pick = ready[usize::try_from(state >> 33).unwrap() % ready.len()];
        left.retain(|n| *n != pick);
        order.push(pick);
    }
    let place = |old: usize| order.iter().position(|o| *o == old).unwrap();
    let nodes = order
        .iter()
        .map(|old| Node {
            after: nodes[*old].after.iter().map(|p| place(*p)).collect(),
            ..nodes[*old].clone()
        })
        .collect();
    (nodes, order)
}

proptest! {
    #![proptest_config(ProptestConfig { cases: 2_000, failure_persistence: None, ..ProptestConfig::default() })]

    #[test]
    fn a_timer_never_rings_later_than_any_branch_alone(nodes in any_nodes()) {
        let stands = evaluate(Rule::Earliest, &nodes).unwrap().stands;
        for steps in paths(&nodes) {
            let (phase, due_ms) = path(Rule::Earliest, &steps);
            prop_assert!(stands.due_ms <= due_ms, "{stands:?} rings later than {steps:?}");
            if let Some(paused) = phase {
                // Somebody's branch is not over, so it is not over.
                let over = matches!(stands.phase, Phase::Stopped { .. });
                let paused_after_a_stop =
                    steps.iter().any(|(_, s)| *s == Step::Stopped) && paused.is_some();
                prop_assert!(!over || paused_after_a_stop, "{steps:?} runs, yet it is over");
                if paused.is_none() {
                    prop_assert_eq!(stands.phase, Phase::Running, "{:?} runs", steps);
                }
            }
        }
    }

    #[test]
    fn an_alert_test_is_never_readable_earlier_than_any_branch_alone(nodes in any_nodes()) {
        let stands = evaluate(Rule::Latest, &nodes).unwrap().stands;
        for steps in paths(&nodes) {
            let (phase, due_ms) = path(Rule::Latest, &steps);
            prop_assert!(stands.due_ms >= due_ms, "{stands:?} is readable before {steps:?}");
            if let Some(Some(left_ms)) = phase
                && !steps.iter().any(|(_, s)| *s == Step::Stopped)
            {
                match stands.phase {
                    Phase::Paused { left_ms: left, .. } => prop_assert!(left >= left_ms),
                    other => prop_assert!(false, "{steps:?} is paused, yet it is {other:?}"),
                }
            }
        }
    }

    #[test]
    fn a_timer_means_the_same_in_every_order_of_arrival(nodes in any_nodes(), seed: u64) {
        for rule in [Rule::Earliest, Rule::Latest] {
            let here = evaluate(rule, &nodes).unwrap();
            let (other, order) = reordered(&nodes, seed);
            let there = evaluate(rule, &other).unwrap();
            prop_assert_eq!(here.stands, there.stands);
            let mut open: Vec<usize> = there.open.iter().map(|p| order[*p]).collect();
            open.sort_unstable();
            prop_assert_eq!(here.open, open);
        }
    }

    #[test]
    fn edits_apart_are_never_passed_over(nodes in any_nodes()) {
        // Whenever two extensions did not know of each other and nothing that knew of both came after, both are asked
        // about, unless everybody has stopped the timer.
        let schedule = evaluate(Rule::Earliest, &nodes).unwrap();
        let known = known(&nodes);
        let extensions: Vec<usize> = (0..nodes.len())
            .filter(|n| matches!(nodes[*n].step, Some(Step::Extended { .. })))
            .collect();
        for a in &extensions {
            for b in &extensions {
                let apart = !known[*a].contains(b) && !known[*b].contains(a);
                let met = known.iter().any(|k| k.contains(a) && k.contains(b));
                if apart && !met && !matches!(schedule.stands.phase, Phase::Stopped { .. }) {
                    prop_assert!(schedule.open.contains(a) && schedule.open.contains(b));
                }
            }
        }
    }

    #[test]
    fn nonsense_from_a_broken_writer_never_panics(
        nodes in prop::collection::vec(
            (any::<i64>(), any::<Option<i64>>(), 0..8_u8, any::<i64>(), prop::collection::vec(0..12_usize, 0..5)),
            0..12,
        ),
        latest: bool,
    ) {
        let nodes: Vec<Node> = nodes
            .into_iter()
            .map(|(ms, within_ms, what, figure, after)| {
                let at = Moment { ms, within_ms };
                let step = match what {
                    0 => Some(Step::Started { from: at, length_ms: figure }),
                    1 => Some(Step::Extended { by_ms: figure }),
                    2 => Some(Step::LengthSet { length_ms: figure }),
                    3 => Some(Step::Paused),
                    4 => Some(Step::Resumed),
                    5 => Some(Step::Stopped),
                    6 => Some(Step::Settled(Outcome::Paused { left_ms: figure })),
                    _ => None,
                };
                Node { at, step, after }
            })
            .collect();
        let rule = if latest { Rule::Latest } else { Rule::Earliest };
        let starts = nodes.iter().any(|n| matches!(n.step, Some(Step::Started { .. })));
        prop_assert_eq!(evaluate(rule, &nodes).is_some(), starts);
    }
}
