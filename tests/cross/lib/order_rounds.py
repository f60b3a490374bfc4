# SPDX-License-Identifier: GPL-3.0-or-later
"""Random rounds for the order's cross-checks and the planner's answers to them, with no reading of the rules."""
import subprocess


def ceil_div(a, b):
    return -(-a // b)


def random_round(rng, n_tanks, n_feeders):
    lag_min = rng.choice([4, 6, 10, 15])
    p = {"k": n_feeders, "lag_min": lag_min, "lag_max": lag_min + rng.randint(4, 6), "speed": rng.choice([8, 20, 60]),
         "switch": rng.randint(0, 1), "tool_change": rng.randint(0, 3), "gap": rng.randint(0, 5),
         "ready": [rng.choice([0, 0, rng.randint(0, 15)]) for _ in range(n_feeders)], "tanks": []}
    for i in range(n_tanks):
        p["tanks"].append({"position": rng.randint(0, 15), "broadcast": rng.choice([0, 1, 1, 2, 3]), "fish": rng.randint(0, 2),
                           "feed_s": rng.choice([0] + [rng.randint(30, 480)] * 6), "wanted": rng.choice([0, 10]),
                           "rest": rng.randint(1, 7), "limit": rng.randint(11, 18), "quarantine": int(rng.random() < 0.12)})
    if rng.random() < 0.15:     # one tank in two passes
        p["tanks"][0]["feed_s"] = 60 * rng.randint(9, 12)
        p["tanks"][0]["limit"] = 14
    return p


def solve_ours(program, rounds, work):
    text = []
    for p in rounds:
        text.append(" ".join(map(str, [len(p["tanks"]), p["k"], p["lag_min"], p["lag_max"], p["speed"], p["switch"],
                                       p["tool_change"], p["gap"], 2000, work] + p["ready"])))
        for t in p["tanks"]:
            text.append(" ".join(str(t[key]) for key in ("position", "broadcast", "fish", "feed_s", "wanted", "rest", "limit",
                                                         "quarantine")))
    out = subprocess.run([program], input="\n".join(text), capture_output=True, text=True, check=True)
    return [tuple(map(int, line.split())) for line in out.stdout.splitlines()]
