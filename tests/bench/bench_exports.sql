-- The rows of `bench_exports.py`: :count checks, and ten findings for every three of them.
INSERT INTO person VALUES ('a', 'a', 'a', 'n1', 'n1', 'Ada Quirke', 'ward', NULL, NULL, NULL, 1), ('b', 'b', 'b', 'n2', 'n2', 'Bo Lund', 'ward', NULL, NULL, NULL, 1);

WITH RECURSIVE c(n) AS (SELECT 1 UNION ALL SELECT n + 1 FROM c WHERE n < :count)
INSERT INTO participant SELECT printf('%032x', n), s, CASE s WHEN 1 THEN 'a' ELSE 'b' END, strftime('%Y-%m-%dT%H:%M:%S.000000Z', 1830297600 + n * 300, 'unixepoch') FROM c JOIN (SELECT 1 AS s UNION SELECT 2);

WITH RECURSIVE c(n) AS (SELECT 1 UNION ALL SELECT n + 1 FROM c WHERE n < :count)
INSERT INTO log_entry SELECT n, strftime('%Y-%m-%dT%H:%M:%S.000000Z', 1830297600 + n * 300 + 600, 'unixepoch'), 'a', NULL, printf('%032x', n), '', '', NULL, 'started', x'7b7d' FROM c;

WITH RECURSIVE c(n) AS (SELECT 1 UNION ALL SELECT n + 1 FROM c WHERE n < :count)
INSERT INTO ended_check SELECT printf('%032x', n), printf('%032x', n / 3), printf('%016x', n / 5), 'set-up', 'ward-4-east', n % 30, 'HYDROmorphone', strftime('%Y-%m-%dT%H:%M:%S.000000Z', 1830297600 + n * 300, 'unixepoch'), strftime('%Y-%m-%dT%H:%M:%S.000000Z', 1830297600 + n * 300, 'unixepoch'), strftime('%Y-%m-%dT%H:%M:%S.000000Z', 1830297600 + n * 300, 'unixepoch'), strftime('%Y-%m-%dT%H:%M:%S.000000Z', 1830297600 + n * 300 + 600, 'unixepoch'), strftime('%Y-%m-%dT%H:%M:%S.000000Z', 1830297600 + n * 300 + 600, 'unixepoch'), strftime('%Y-%m-%dT%H:%M:%S.000000Z', 1830297600 + n * 300 + 600, 'unixepoch'), 'started', '', 0, 1, 0, 0, 2, 1, 0, 0, 0, 'two-devices', 0, 'agreed', '12', '-1/7', 1, 'countersign.record/2', 0, '0.1.0', 'policy-9', 'library-5', '0123456789abcdef', 'fedcba9876543210' FROM c;

WITH RECURSIVE c(n) AS (SELECT 1 UNION ALL SELECT n + 1 FROM c WHERE n < :count)
INSERT INTO finding SELECT printf('%032x', n), 'sources', 1, k, printf('%032x', n / 3), 'ward-4-east', n % 30, 'set-up', 'HYDROmorphone', strftime('%Y-%m-%dT%H:%M:%S.000000Z', 1830297600 + n * 300, 'unixepoch'), 'stop', 'readings-differ', 'demand_dose', '', 'B', '', 'reading', 'decimal-shift', '10', 0, 'two-devices', 0, '0123456789abcdef', 'fedcba9876543210' FROM c JOIN (SELECT 1 AS k UNION SELECT 2 UNION SELECT 3 UNION SELECT 4) ON k < 4 OR n % 3 = 0;

WITH RECURSIVE c(n) AS (SELECT 1 UNION ALL SELECT n + 1 FROM c WHERE n < :count)
INSERT INTO finding_settled SELECT printf('%032x', n), 'sources', 1, k, 'ward-4-east', strftime('%Y-%m-%dT%H:%M:%S.000000Z', 1830297600 + n * 300, 'unixepoch'), 'read again', strftime('%Y-%m-%dT%H:%M:%S.000000Z', 1830297600 + n * 300 + 600, 'unixepoch'), 2, 'A', 120, '', '' FROM c JOIN (SELECT 1 AS k UNION SELECT 2 UNION SELECT 3 UNION SELECT 4) ON k < 4 OR n % 3 = 0;

