"""Settings for all tests: hypothesis repeats itself exactly unless asked to search."""

import os

import pytest
from hypothesis import HealthCheck, settings

_CALM = {"deadline": None, "database": None, "suppress_health_check": [HealthCheck.too_slow]}
settings.register_profile("repeat", derandomize=True, max_examples=100, **_CALM)
settings.register_profile("search", derandomize=False, max_examples=2000, **_CALM)
settings.load_profile("repeat")


def pytest_report_header() -> str:
    return f"skips are failures: {_no_skip()}"


def _no_skip() -> bool:
    return os.environ.get("CUPGEOM_NO_SKIP") == "1"


@pytest.hookimpl(wrapper=True)
def pytest_runtest_makereport(item: pytest.Item, call: pytest.CallInfo[None]):
    report = yield
    if report.skipped and _no_skip() and "shared corpus" not in str(report.longrepr):
        report.outcome = "failed"
        report.longrepr = f"skipped although CUPGEOM_NO_SKIP=1: {report.longrepr}"
    return report
