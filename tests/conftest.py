"""Settings of the test runs, and the count of published checks by origin at their end."""

from __future__ import annotations

from collections import Counter

import pytest
from hypothesis import settings

collect_ignore_glob = ["conftest.py", "*/conftest.py"]  # their docstrings hold no examples

settings.register_profile("ci", derandomize=True, max_examples=100, deadline=None)
settings.register_profile("deep", max_examples=5000, deadline=None)
settings.load_profile("ci")  # the other: pytest --hypothesis-profile=deep

ORIGINS = {
    "print": "read in the source itself",
    "restated": "read in a later work that names the source",
    "program": "another general program",
    "hand": "solved by hand",
    "derived": "arithmetic on the equations: guards against slips, proves no science",
    "memory": "nobody has read it yet",
    "practice": "common practice, no source",
    "regression": "this code computed it",
}


def pytest_terminal_summary(terminalreporter: pytest.TerminalReporter) -> None:
    """Published checks passed and run, by where the expected number came from."""
    run: Counter[str] = Counter()
    passed: Counter[str] = Counter()
    gaps: Counter[str] = Counter()
    for outcome in ("passed", "failed", "xfailed", "xpassed"):
        for report in terminalreporter.stats.get(outcome, []):
            known = dict(getattr(report, "user_properties", ()))
            origin = known.get("published_origin")
            if origin is None or report.when != "call":
                continue
            run[origin] += 1
            passed[origin] += outcome == "passed"
            gaps[origin] += outcome == "passed" and known["published_gap"]
    if not run:
        return
    terminalreporter.section("published checks, by origin of the expected number")
    for origin in sorted(run, key=[*ORIGINS, *run].index):
        line = f"{origin:<11}{passed[origin]:>4} of {run[origin]:<4} {ORIGINS.get(origin, '')}"
        if gaps[origin]:
            line += f" ({gaps[origin]} of them with an explained gap)"
        terminalreporter.write_line(line.rstrip())
    outside = passed["print"] + passed["restated"]
    explained = gaps["print"] + gaps["restated"]
    terminalreporter.write_line(
        f"of {run.total()} checks {outside - explained} agree with print, or with a restatement of "
        f"it, to the printed digit and {explained} with an explained gap"
    )
