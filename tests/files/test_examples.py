"""The examples in the docstrings are true."""

import doctest

import pytest

from core.files import content, guard, numbers
from core.geometry import weld


@pytest.mark.parametrize("module", [content, guard, numbers, weld], ids=lambda m: m.__name__)
def test_examples(module):
    outcome = doctest.testmod(module)
    assert outcome.attempted > 0
    assert outcome.failed == 0
