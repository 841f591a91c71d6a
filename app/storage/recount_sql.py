"""The two statements by which accounts are computed again; `recounted.py` has the words of each engine.

`MOVES`: what log and comparisons say, each text made a number; which syringe is on after each entry of the
log; from that every move of drug and every reading, in the order of stated times. `SUMS`: each syringe.
"""

MOVES = """
WITH RECURSIVE
-- How often the server's clock had been put back before each entry.
eras AS MATERIALIZED (
    SELECT position AS told_at, sum(CASE WHEN was - at > :put_back THEN 1 ELSE 0 END)
        OVER (PARTITION BY infusion ORDER BY position) AS era
    FROM (SELECT infusion, position, at, lag(at) OVER (PARTITION BY infusion ORDER BY position) AS was
        FROM (SELECT infusion, position, [at at] AS at FROM log_entry
            WHERE infusion IN :infusions AND kind IN :course) AS told) AS follow
),
-- What the log tells, and what the rounds of the checks read.
log AS MATERIALIZED (
    SELECT infusion, position, [at at] AS at, kind, coalesce("check", '') AS told_in, [json canonical] AS said
    FROM log_entry WHERE infusion IN :infusions AND kind IN :kinds
),
told AS MATERIALIZED (
    SELECT infusion, position, at, told_in, {log.said:data.way} AS way, {log.said:data.held_in} AS held_in,
        {log.said:data.syringe} AS syringe, {log.said:data.exact} AS exact,
        {log.said:data.stated_at} AS stated, {log.said:data.started_at} AS begun,
        CASE WHEN kind <> 'led-to-check' THEN {log.said:data.check_kind} END AS check_kind, coalesce(
            nullif({log.said:data.instead_of}, ''), {log.said:data.in_force}, told_in) AS read_in,
        told_in || ' ' || {log.said:data.round} AS told_of,
        CASE WHEN CAST({log.said:data.is_told_apart} AS TEXT) IN ('1', 'true') THEN 0 ELSE 1 END AS by_label,
        CASE kind WHEN 'started' THEN
            CASE WHEN {log.said:data.check_kind} IN :another THEN 'another'
                WHEN {log.said:data.check_kind} IN :by_label THEN 'by-label' ELSE 'stays' END
            WHEN 'drug-taken-back' THEN
            CASE WHEN {log.said:data.syringe} LIKE '% %' THEN 'of-label' ELSE 'of-name' END
            WHEN 'led-to-check' THEN 'check-done' ELSE kind END AS does
    FROM log WHERE kind <> 'led-to-check' OR CAST({log.said:data.round} AS BIGINT) > 0
),
-- Of device and syringe that are kept, of each answer the last, and all of it where it was written first;
-- once they were given free nothing is kept under a seal.
of_evidence AS MATERIALIZED (
    SELECT infusion, position, {log.said:data.harm} AS harm, {log.said:data.seal} AS seal,
        {log.said:data.total_amount} AS amount, {log.said:data.total_volume} AS given,
        {log.said:data.presses} AS presses, {log.said:data.doses} AS doses, {log.said:data.left} AS remains
    FROM log WHERE kind = 'evidence-kept'
),
evidence AS MATERIALIZED (
    SELECT infusion AS kept_of, min(position) AS kept_at,
        CASE WHEN NOT EXISTS (SELECT 1 FROM log WHERE log.infusion = v.infusion AND kind = 'evidence-released'
            AND {log.said:data.harm} = v.harm) THEN [last seal] END AS seal,
        nullif([last amount], 'none') AS kept_amount, nullif([last given], 'none') AS kept_given,
        nullif([last presses], 'none') AS kept_presses, nullif([last doses], 'none') AS kept_doses,
        nullif([last remains], 'none') AS kept_left
    FROM of_evidence AS v WHERE NOT EXISTS (SELECT 1 FROM log WHERE log.infusion = v.infusion
        AND kind = 'stop-misplaced' AND {log.said:data.stop} = v.harm)
    GROUP BY infusion, harm
),
-- Of what was written anew, the last counts.
counting AS MATERIALIZED (
    SELECT t.*, e.*, CASE WHEN does = 'of-label'
        THEN max(position) OVER (PARTITION BY infusion, does, told_of, held_in)
        ELSE position END AS last_told,
        CASE does WHEN 'of-label' THEN CAST(substr(syringe, instr(syringe, ' ') + 1) AS BIGINT)
            ELSE 999999 END AS last_round
    FROM told AS t LEFT JOIN evidence AS e ON e.kept_of = t.infusion AND e.kept_at = t.position
    WHERE does NOT IN ('stop-misplaced', 'evidence-released')
        AND (does <> 'evidence-kept' OR kept_at IS NOT NULL)
        AND (does <> 'started-without-check' OR NOT EXISTS (SELECT 1 FROM log WHERE log.infusion = t.infusion
            AND kind = 'stop-misplaced' AND {log.said:data.stop} = CAST(t.position AS TEXT)))
),
opened AS MATERIALIZED (
    SELECT c."check" AS read_in, c.subject, c.round, [at c.at] AS at, [json c."case"] AS said,
        [json c.result] AS found,
        max(c.round) OVER (PARTITION BY c."check", c.subject) AS newest
    FROM comparison AS c JOIN "check" AS k ON k.id = c."check" WHERE k.infusion IN :infusions
),
parts AS MATERIALIZED (
    SELECT read_in, round, at, {opened.said>case.entries.0} AS e0, {opened.said>case.entries.1} AS e1,
        {opened.said>answers.A} AS a, {opened.said>answers.B} AS b,
        {opened.said:case.policy.prime_volume} AS holds, {opened.found:loaded_again} AS again,
        {opened.found:unseen} AS unseen,
        coalesce({opened.said:case.entries.0.order.staff_bolus.dose},
            {opened.said:case.order_of_record.staff_bolus.dose}) AS bolus
    FROM opened WHERE subject = 'sources'
),
texts AS MATERIALIZED (
    SELECT read_in, round, at, holds, bolus, again, unseen, [label] AS label,
        {parts.b:label.part_left} AS part_left, {alike label.syringe_size} AS size,
        -- Of a device that is set in volumes, what the order says.
        CASE WHEN {alike device.loading_dose} LIKE '%L' THEN {alike order.loading_dose}
            ELSE {alike device.loading_dose} END AS loading,
        {alike label.amount} AS amount, {alike label.concentration} AS concentration,
        coalesce({alike label.volume},
            CASE {parts.a:label.content_volume} WHEN {parts.b:label.content_volume}
            THEN {parts.a:label.content_volume} END) AS content,
        CASE WHEN {alike device.amount} IS NOT NULL
            THEN {alike device.amount} || '/' || {alike device.volume}
            ELSE {alike device.concentration} END AS set_to,
        {alike device.mode} AS mode, {alike device.demand_dose} AS dose, {alike device.lockout} AS lockout,
        nullif({parts.b:totals.total_amount}, 'none') AS total_amount,
        nullif({parts.b:totals.total_volume}, 'none') AS total_volume,
        nullif({parts.b:totals.presses}, 'none') AS presses, nullif({parts.b:totals.doses}, 'none') AS doses,
        nullif({parts.b:totals.left}, 'none') AS remains, {parts.b:totals.read_at} AS read_at
    FROM parts
),
strengths AS MATERIALIZED (
    SELECT t.*, CASE WHEN amount IS NOT NULL THEN amount || '/' || content ELSE concentration END AS strength
    FROM texts AS t
),
reads AS MATERIALIZED (
    SELECT read_in, round, at AS compared_at, label, [mL content] AS content,
        [mL part_left] AS part_left, [mL holds] AS holds, [mg bolus] AS bolus, [mg loading] AS loading,
        [strength-mass strength] AS mass, [strength-volume strength] AS per,
        [strength-mass set_to] AS set_mass, [strength-volume set_to] AS set_per,
        [mg total_amount] AS amount, [mL total_volume] AS given,
        CAST(presses AS BIGINT) AS presses, CAST(doses AS BIGINT) AS doses, [mL remains] AS remains,
        CASE WHEN coalesce(total_amount, total_volume, remains) IS NOT NULL THEN [at read_at] END AS read_at,
        CASE WHEN content IS NOT NULL AND size IS NOT NULL AND strength IS NOT NULL
            THEN 1 ELSE 0 END AS whole,
        CASE WHEN mode NOT IN :with_demands OR mode IS NOT NULL AND dose IS NOT NULL AND lockout IS NOT NULL
            THEN 1 ELSE 0 END AS is_set,
        -- -1: the one that ran, and no two had read it.
        CASE WHEN again = :unread THEN -1 WHEN again <> '' AND ltrim(again, '0123456789') = ''
            THEN CAST(again AS BIGINT) ELSE 0 END AS again,
        CASE WHEN unseen <> '' AND ltrim(unseen, '0123456789') = '' THEN CAST(unseen AS BIGINT)
            ELSE 0 END AS unseen
    FROM strengths
),
primed AS MATERIALIZED (
    SELECT read_in AS primed_in, [mL volume] AS primed FROM (
        SELECT read_in, {opened.said:volume} AS volume FROM opened
        WHERE subject = 'priming' AND round = newest
    ) AS o
),
-- What counts of it, each with the reading that it rests on.
rested AS MATERIALIZED (
    SELECT t.*, r.*, p.primed, row_number() OVER (
        PARTITION BY t.infusion, t.position ORDER BY r.round DESC) AS newest_first
    FROM (SELECT infusion, position, at, does, way, held_in, seal, check_kind, syringe, stated, begun, exact,
            by_label, last_round, last_told, read_in AS rests_on,
            kept_amount, kept_given, kept_presses, kept_doses, kept_left
        FROM counting WHERE position = last_told OR does = 'of-label') AS t
    LEFT JOIN reads AS r ON r.read_in = t.rests_on AND r.round <= t.last_round
    LEFT JOIN primed AS p ON p.primed_in = t.rests_on
),
events AS MATERIALIZED (
    SELECT infusion, position, at, does, way, held_in, seal, check_kind,
        row_number() OVER (PARTITION BY infusion ORDER BY position) AS k,
        [stated rested.stated] AS stated, [stated rested.begun] AS begun,
        CASE WHEN position = last_told THEN [mL nullif(exact, '')] END AS exact,
        CASE WHEN syringe <> '' AND ltrim(syringe, '0123456789') = '' THEN CAST(syringe AS BIGINT)
            ELSE 0 END AS by_name,
        '|' || coalesce(read_in, '') || ' ' || CAST(coalesce(round, 0) AS TEXT) || '=' AS place,
        CASE WHEN compared_at > at THEN at ELSE compared_at END AS compared_at,
        coalesce(label, '') AS label, by_label,
        content, part_left, holds, bolus, loading, mass, per, set_mass, set_per,
        coalesce(amount, [mg kept_amount]) AS amount, coalesce(given, [mL kept_given]) AS given,
        coalesce(presses, CAST(kept_presses AS BIGINT)) AS presses,
        coalesce(doses, CAST(kept_doses AS BIGINT)) AS doses, coalesce(remains, [mL kept_left]) AS remains,
        CASE WHEN does = 'evidence-kept' OR read_at > at THEN at ELSE read_at END AS read_at,
        whole, is_set, primed, coalesce(again, 0) AS again, coalesce(unseen, 0) AS unseen
    FROM rested WHERE newest_first = 1
        AND (read_in IS NOT NULL OR does NOT IN ('another', 'by-label', 'stays', 'check-done', 'of-label'))
),
-- Which syringe is on after each: `came` came in with it, one was `put` on, `went` was taken off; `since` is
-- when what it is about came in, or came off.
walk AS (
    SELECT id AS infusion, CAST(0 AS BIGINT) AS k, CAST(0 AS BIGINT) AS issued, CAST(0 AS BIGINT) AS is_on,
        CAST('' AS TEXT) AS label, CAST(NULL AS BIGINT) AS began, CAST(NULL AS BIGINT) AS began_k,
        CAST(NULL AS BIGINT) AS since, CAST(NULL AS BIGINT) AS since_k, CAST('' AS TEXT) AS places,
        CAST(0 AS BIGINT) AS came, CAST(0 AS BIGINT) AS put, CAST(0 AS BIGINT) AS went,
        CAST(0 AS BIGINT) AS of
    FROM infusion WHERE id IN :infusions
    UNION ALL
    SELECT w.infusion, e.k, w.issued + CASE WHEN <comes> THEN 1 ELSE 0 END,
        CASE WHEN <puts> AND <again> THEN <which> WHEN <puts> AND <comes> THEN w.issued + 1
            WHEN <puts> OR <goes> THEN 0 ELSE w.is_on END,
        CASE WHEN <puts> AND (<comes> OR <again>) THEN e.label ELSE w.label END,
        CASE WHEN <read> THEN NULL WHEN <hurried> THEN e.begun ELSE w.began END,
        CASE WHEN <read> THEN NULL WHEN <hurried> THEN e.k ELSE w.began_k END,
        w.began, w.began_k,
        w.places || CASE WHEN <comes> THEN e.place || CAST(1001 + w.issued AS TEXT)
            WHEN <again> AND e.does IN ('another', 'of-label') THEN e.place || CAST(1000 + e.again AS TEXT)
            WHEN e.does = 'of-label' AND <known> = 0 AND <same>
            THEN e.place || CAST(1000 + w.is_on AS TEXT) ELSE '' END,
        CASE WHEN <comes> THEN w.issued + 1 ELSE 0 END,
        CASE WHEN <puts> AND (<comes> OR <again>) THEN 1 ELSE 0 END,
        CASE WHEN <goes> THEN w.is_on ELSE 0 END,
        CASE WHEN e.does = 'of-label' THEN CASE
                WHEN <known> > 0 THEN CAST(substr(w.places, <known> + length(e.place), 4) AS BIGINT) - 1000
                WHEN <again> THEN e.again WHEN <same> THEN w.is_on WHEN <comes> THEN w.issued + 1 ELSE 0 END
            WHEN e.does = 'of-name' AND e.by_name <= w.issued THEN e.by_name ELSE 0 END
    FROM walk AS w JOIN events AS e ON e.infusion = w.infusion AND e.k = w.k + 1
),
acts AS MATERIALIZED (
    SELECT e.*, w.is_on, w.came, w.put, w.went, w.issued, w.began, <found at> AS found_at,
        -- What was spilt before anybody had read of which syringe it was.
        CASE WHEN e.does = 'of-name' AND w.issued = 0 AND w.began IS NOT NULL AND e.held_in = :spilt
            THEN max(CASE WHEN e.does = 'check-done' AND w.came = 1 THEN 1 ELSE 0 END)
                OVER (PARTITION BY e.infusion) ELSE w.of END AS of,
        CASE WHEN <found> THEN <found at> ELSE e.compared_at END AS came_at,
        CASE WHEN <found> THEN <found at> ELSE e.at END AS loaded_at,
        CASE WHEN e.does = 'check-done' THEN w.since ELSE e.at END AS put_at,
        -- What came off: as it was read in the check that was given up for a start, or is read now.
        CASE WHEN <found> THEN <found at> WHEN <off> THEN e.read_at ELSE e.at END AS off_at,
        CASE WHEN <found> THEN s.amount WHEN <off> THEN e.amount END AS off_amount,
        CASE WHEN <found> THEN s.given WHEN <off> THEN e.given END AS off_given,
        CASE WHEN <found> THEN s.presses WHEN <off> THEN e.presses END AS off_presses,
        CASE WHEN <found> THEN s.doses WHEN <off> THEN e.doses END AS off_doses,
        CASE WHEN <found> THEN s.remains WHEN <off> THEN e.remains END AS off_remains,
        s.position AS start_position,
        CASE WHEN e.does = 'check-done' THEN e.holds ELSE e.primed END AS primes,
        CASE WHEN e.does = 'check-done' AND w.went > 0 THEN 0 WHEN w.put = 1
            OR e.does IN ('by-label', 'stays', 'another') AND w.is_on > 0 THEN 1 ELSE 0 END AS runs,
        CASE WHEN e.does = 'check-done' OR e.check_kind IN :gives_loading THEN e.loading END AS loads,
        CASE WHEN e.check_kind IN :begins_totals AND CASE e.does WHEN 'another'
            THEN w.issued > 0 AND w.came <> 1 ELSE w.is_on > 0 END THEN 1 ELSE 0 END AS begins,
        -- A part-used one that no two had read comes in with what both saw in it.
        CASE WHEN e.again = -1 THEN e.part_left ELSE e.content END AS comes_with
    FROM walk AS w JOIN events AS e ON e.infusion = w.infusion AND e.k = w.k
    LEFT JOIN events AS s ON s.infusion = w.infusion AND s.k = w.since_k
),
-- Every move of drug and every reading of totals; an act may be several of them.
moves AS MATERIALIZED (
    SELECT a.infusion, a.position, s.what, a.at AS said_at,
        -- What comes off comes off before new totals begin, and another is put on after that.
        CASE WHEN s.what = 'begins' AND a.does = 'another' THEN 3 ELSE s.step END AS step,
        -- What was started without a check began before all that was told of it.
        CASE WHEN a.does = 'check-done' AND s.what <> 'read'
            OR a.does = 'stays' AND s.what IN ('removed', 'issued', 'loaded')
            THEN coalesce(a.start_position, a.position) ELSE a.position END AS ordered_at,
        CASE s.what WHEN 'issued' THEN a.came WHEN 'removed' THEN a.went WHEN 'kept' THEN a.went
            WHEN 'gone' THEN a.of ELSE a.is_on END AS no,
        CASE s.what WHEN 'issued' THEN a.came_at WHEN 'loaded' THEN a.loaded_at
            WHEN 'removed' THEN a.off_at
            WHEN 'read' THEN a.read_at WHEN 'primed' THEN a.put_at WHEN 'settings' THEN a.put_at
            WHEN 'started' THEN a.put_at WHEN 'loading' THEN a.put_at
            WHEN 'gone' THEN a.stated WHEN 'bolus' THEN a.stated
            WHEN 'end' THEN 9000000000000000 ELSE a.at END AS at,
        CASE s.what WHEN 'issued' THEN a.comes_with WHEN 'primed' THEN a.primes WHEN 'gone' THEN a.exact
            WHEN 'kept' THEN a.remains END AS volume,
        CASE WHEN s.what IN ('read', 'begins') THEN a.amount WHEN s.what = 'removed' THEN a.off_amount
            WHEN s.what = 'bolus' THEN a.bolus WHEN s.what = 'loading' THEN a.loads END AS amount,
        CASE WHEN s.what IN ('read', 'begins') THEN a.given WHEN s.what = 'removed' THEN a.off_given
            END AS given,
        CASE s.what WHEN 'read' THEN a.presses WHEN 'removed' THEN a.off_presses END AS presses,
        CASE s.what WHEN 'read' THEN a.doses WHEN 'removed' THEN a.off_doses END AS doses,
        CASE s.what WHEN 'read' THEN a.remains WHEN 'removed' THEN a.off_remains END AS remains,
        CASE s.what WHEN 'loaded' THEN a.mass WHEN 'settings' THEN a.set_mass END AS mass,
        CASE s.what WHEN 'loaded' THEN a.per WHEN 'settings' THEN a.set_per END AS per,
        a.way, a.held_in, CASE WHEN a.does = 'of-label' THEN a.compared_at
            WHEN a.does = 'of-name' AND a.issued = 0 THEN a.began END AS earliest,
        CASE WHEN a.check_kind IN :of_another_device THEN 1 ELSE 0 END AS is_another_device
    FROM acts AS a JOIN (
        SELECT 1 AS step, 'removed' AS what UNION ALL SELECT 2, 'issued' UNION ALL SELECT 3, 'kept'
        UNION ALL SELECT 4, 'loaded' UNION ALL SELECT 5, 'read' UNION ALL SELECT 6, 'begins'
        UNION ALL SELECT 7, 'primed' UNION ALL SELECT 8, 'settings' UNION ALL SELECT 9, 'started'
        UNION ALL SELECT 10, 'loading' UNION ALL SELECT 11, 'gone' UNION ALL SELECT 12, 'bolus'
        UNION ALL SELECT 13, 'end'
    ) AS s ON CASE s.what
        WHEN 'removed' THEN a.went > 0 WHEN 'issued' THEN a.came > 0 WHEN 'loaded' THEN a.put = 1
        WHEN 'kept' THEN a.does = 'evidence-kept' AND a.went > 0 AND a.remains > 0 AND a.seal <> ''
        WHEN 'read' THEN a.is_on > 0 AND a.read_at IS NOT NULL AND a.does <> 'another'
            AND (a.does = 'check-done' OR a.begins = 1)
        WHEN 'begins' THEN a.begins = 1 WHEN 'primed' THEN a.runs = 1 AND a.primes > 0
        WHEN 'settings' THEN a.runs = 1 WHEN 'started' THEN a.runs = 1
        WHEN 'loading' THEN a.runs = 1 AND a.loads > 0
        WHEN 'gone' THEN a.of > 0 AND a.exact > 0
        WHEN 'bolus' THEN a.does = 'staff-bolus-given' AND a.issued > 0 AND a.bolus > 0
        WHEN 'end' THEN a.does = 'infusion-ended' AND a.issued > 0 END
),
-- What went of a syringe went after that had come in, and its rest after it had come off.
dated AS MATERIALIZED (
    SELECT m.*, CASE WHEN earliest IS NOT NULL THEN earliest WHEN held_in = :in_syringe
        THEN max(CASE WHEN what IN ('issued', 'removed') THEN at END) OVER its
        ELSE max(CASE WHEN what = 'issued' THEN at END) OVER its END AS since
    FROM moves AS m WINDOW its AS (PARTITION BY infusion, no ORDER BY position, step)
)
SELECT infusion, row_number() OVER (PARTITION BY infusion ORDER BY coalesce(era, 0),
        CASE WHEN what = 'gone' AND since > said_at THEN said_at
            WHEN what = 'gone' AND since > at THEN since ELSE at END, position, step) AS n,
    CASE WHEN what = 'gone' THEN way WHEN what = 'begins' AND is_another_device = 1 THEN 'device'
        WHEN what = 'begins' THEN 'cleared' ELSE what END AS what,
    no, volume, amount, given, presses, doses, remains, mass, per
FROM dated LEFT JOIN eras ON told_at = ordered_at ORDER BY infusion, n
"""

SUMS = """
WITH RECURSIVE
moves AS MATERIALIZED (SELECT [columns] FROM [rows]),
-- Through them in order: what is on, to what the device is set, the last reading of its totals, and since
-- then which syringes were on, or which `one` (-1: several), at which one strength, and what was given and
-- primed apart.
walk AS (
    SELECT infusion, CAST(0 AS BIGINT) AS n, CAST(0 AS BIGINT) AS is_on, CAST(0 AS BIGINT) AS before,
        CAST(NULL AS BIGINT) AS set_mass, CAST(NULL AS BIGINT) AS set_per,
        CAST(NULL AS BIGINT) AS label_mass, CAST(NULL AS BIGINT) AS label_per, CAST(0 AS BIGINT) AS counts,
        CAST(0 AS BIGINT) AS amount, CAST(0 AS BIGINT) AS given, CAST(0 AS BIGINT) AS high_amount,
        CAST(0 AS BIGINT) AS high_given, CAST(0 AS BIGINT) AS presses, CAST(0 AS BIGINT) AS doses,
        CAST(0 AS BIGINT) AS one, CAST('' AS TEXT) AS were_on, CAST(0 AS BIGINT) AS mixed,
        CAST(0 AS BIGINT) AS bolus, CAST(0 AS BIGINT) AS primed,
        CAST(0 AS BIGINT) AS rises, CAST(NULL AS BIGINT) AS mass_rise, CAST(NULL AS BIGINT) AS volume_rise
    FROM (SELECT DISTINCT infusion FROM moves) AS begins
    UNION ALL
    SELECT m.infusion, m.n,
        CASE m.what WHEN 'loaded' THEN m.no WHEN 'removed' THEN 0 ELSE w.is_on END, w.is_on,
        CASE m.what WHEN 'settings' THEN coalesce(m.mass, w.label_mass)
            WHEN 'device' THEN NULL WHEN 'removed' THEN NULL ELSE w.set_mass END,
        CASE m.what WHEN 'settings' THEN CASE WHEN m.mass IS NULL THEN w.label_per ELSE m.per END
            WHEN 'device' THEN NULL WHEN 'removed' THEN NULL ELSE w.set_per END,
        CASE m.what WHEN 'loaded' THEN m.mass ELSE w.label_mass END,
        CASE m.what WHEN 'loaded' THEN m.per ELSE w.label_per END,
        CASE WHEN <reads> OR m.what IN ('started', 'device', 'cleared') THEN 1 ELSE w.counts END,
        CASE WHEN <begins> THEN 0 WHEN <reads> THEN m.amount ELSE w.amount END,
        CASE WHEN <begins> THEN 0 WHEN <reads> THEN m.given ELSE w.given END,
        CASE WHEN <begins> THEN 0 WHEN <reads> THEN coalesce(m.amount, [high w.high_amount])
            ELSE w.high_amount END,
        CASE WHEN <begins> THEN 0 WHEN <reads> THEN coalesce(m.given, [high w.high_given])
            ELSE w.high_given END,
        CASE WHEN <begins> THEN 0 WHEN <reads> THEN coalesce(m.presses, [high w.presses])
            ELSE w.presses END,
        CASE WHEN <begins> THEN 0 WHEN <reads> THEN coalesce(m.doses, [high w.doses])
            ELSE w.doses END,
        CASE WHEN <fresh> THEN CASE WHEN m.what = 'removed' THEN 0 ELSE w.is_on END
            WHEN m.what = 'loaded' THEN CASE WHEN w.one IN (0, m.no) THEN m.no ELSE -1 END ELSE w.one END,
        CASE WHEN <fresh> THEN CASE m.what WHEN 'removed' THEN '' ELSE '|' || CAST(w.is_on AS TEXT) || '|' END
            WHEN m.what = 'loaded' THEN w.were_on || '|' || CAST(m.no AS TEXT) || '|' ELSE w.were_on END,
        CASE WHEN <fresh> THEN 0 WHEN m.what = 'settings' AND w.set_mass IS NOT NULL AND NOT (<alike>) THEN 1
            ELSE w.mixed END,
        CASE WHEN <fresh> THEN 0 WHEN m.what = 'bolus' AND :counts_bolus = 0 AND w.is_on > 0
            OR m.what = 'loading' AND :counts_loading = 0 THEN w.bolus + m.amount ELSE w.bolus END,
        CASE WHEN <fresh> THEN 0 WHEN m.what = 'primed' AND :counts_prime = 1 THEN w.primed + m.volume
            ELSE w.primed END,
        CASE WHEN <reads> AND w.counts = 1 THEN 1 ELSE 0 END,
        CASE WHEN <reads> AND <back> THEN m.amount WHEN <reads> THEN m.amount - w.amount END,
        CASE WHEN <reads> AND <back> THEN m.given WHEN <reads> THEN m.given - w.given END
    FROM walk AS w JOIN moves AS m ON m.infusion = w.infusion AND m.n = w.n + 1
),
-- Each with what was between the last two readings; what it is about, by what is on where it stands.
walked AS MATERIALIZED (
    SELECT m.infusion, m.n, m.what, m.volume, m.remains,
        CASE WHEN m.what IN ('read', 'primed', 'removed', 'device', 'cleared') THEN w.before
            ELSE m.no END AS no,
        CASE WHEN coalesce(m.amount, m.given) IS NULL THEN 0 ELSE 1 END AS has_totals,
        w.mass_rise, w.volume_rise, b.one, b.were_on, b.bolus, b.primed,
        b.set_mass AS mass, b.set_per AS per,
        CASE WHEN w.rises = 0 THEN 'no' WHEN w.mass_rise IS NULL AND w.volume_rise IS NULL THEN 'unknown'
            WHEN coalesce(w.mass_rise, 0) = 0 AND coalesce(w.volume_rise, 0) = 0
            AND b.bolus = 0 AND b.primed = 0 THEN 'no'
            WHEN b.one <= 0 OR b.mixed = 1 OR b.set_mass IS NULL THEN 'unknown' ELSE 'known' END AS moved
    FROM moves AS m JOIN walk AS w ON w.infusion = m.infusion AND w.n = m.n
    JOIN walk AS b ON b.infusion = m.infusion AND b.n = m.n - 1
),
-- The last count of each syringe, in use (`c`) and in hand (`h`).
counts AS MATERIALIZED (
    SELECT infusion, no, max(CASE WHEN what = 'issued' THEN volume END) AS volume,
        max(CASE WHEN what IN ('read', 'removed') AND remains IS NOT NULL AND has_totals = 1
            THEN n ELSE 0 END) AS c,
        max(CASE WHEN what = 'removed' OR what = 'read' AND remains IS NOT NULL THEN n ELSE 0 END) AS h,
        max(CASE WHEN what = 'loaded' THEN 1 ELSE 0 END) AS was_on,
        max(CASE WHEN has_totals = 0 AND what IN ('device', 'cleared', 'removed')
            OR what = 'removed' AND remains IS NULL THEN 1 ELSE 0 END) AS was_not_read
    FROM walked WHERE no > 0 GROUP BY infusion, no
),
summed AS MATERIALIZED (
    SELECT c.infusion, c.no, c.volume, c.c, c.h, c.was_not_read,
        max(CASE WHEN x.n = c.c THEN x.remains END) AS left_in_use,
        max(CASE WHEN x.n = c.h THEN x.remains END) AS left_in_hand,
        max(CASE WHEN x.what = 'end' THEN 1 ELSE 0 END) AS ended,
        max(CASE WHEN x.moved = 'unknown' AND c.was_on = 1
            AND instr(x.were_on, '|' || CAST(c.no AS TEXT) || '|') > 0
            THEN 1 ELSE 0 END) AS is_unknown,
        coalesce(sum(CASE WHEN x.no = c.no AND x.what = 'primed' THEN x.volume END), 0) AS primed,
        coalesce(sum(CASE WHEN x.no = c.no AND x.what = 'wasted' THEN x.volume END), 0) AS wasted,
        coalesce(sum(CASE WHEN x.no = c.no AND x.what = 'returned' THEN x.volume END), 0) AS returned,
        coalesce(sum(CASE WHEN x.no = c.no AND x.what = 'kept' THEN x.volume END), 0) AS kept,
        coalesce(sum(CASE WHEN x.no = c.no AND x.n > c.c AND x.n < c.h AND <left> THEN x.volume END), 0)
            AS gone_between,
        coalesce(sum(CASE WHEN x.no = c.no AND x.n > c.h AND <left> THEN x.volume END), 0) AS gone_since
    FROM counts AS c JOIN walked AS x ON x.infusion = c.infusion
    GROUP BY c.infusion, c.no, c.volume, c.c, c.h, c.was_not_read
)
SELECT 'syringe' AS what, infusion, no, CASE WHEN was_not_read + is_unknown > 0 THEN 0 ELSE 1 END AS counted,
    volume, primed, wasted, returned, kept,
    CASE WHEN h > 0 AND left_in_hand IS NULL THEN NULL WHEN ended = 1 THEN 0
        WHEN coalesce(left_in_hand, volume) < gone_since THEN 0
        ELSE coalesce(left_in_hand, volume) - gone_since END AS remains,
    CASE WHEN was_not_read + is_unknown > 0 OR h > 0 AND left_in_hand IS NULL THEN NULL WHEN c = h THEN 0
        ELSE coalesce(left_in_use, volume) - gone_between - left_in_hand END AS not_read,
    NULL AS rise, NULL AS mass, NULL AS per
FROM summed
UNION ALL
SELECT 'given', x.infusion, c.no, 1, NULL, NULL, NULL, NULL, NULL, NULL, NULL,
    CASE a.part WHEN 1 THEN coalesce(x.volume_rise, x.mass_rise) WHEN 2 THEN x.bolus ELSE -x.primed END,
    CASE WHEN a.part = 2 OR a.part = 1 AND x.volume_rise IS NULL THEN x.mass ELSE 1 END,
    CASE WHEN a.part = 2 OR a.part = 1 AND x.volume_rise IS NULL THEN x.per ELSE 1 END
FROM walked AS x JOIN counts AS c ON c.infusion = x.infusion AND c.no = x.one AND x.n <= c.c
CROSS JOIN (SELECT 1 AS part UNION ALL SELECT 2 UNION ALL SELECT 3) AS a WHERE x.moved = 'known'
ORDER BY 1, 2, 3
"""
