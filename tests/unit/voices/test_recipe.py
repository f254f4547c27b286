from __future__ import annotations

import pytest
from hypothesis import given
from hypothesis import strategies as st

from variorum.voices.playout import Recipe
from variorum.voices.selfplay import Adjudication

agreed = st.none() | st.builds(Adjudication, st.integers(0, 2000), st.integers(1, 50), st.integers(0, 100))
recipes = st.builds(
    Recipe,
    nodes=st.integers(1, 10**9),
    plies=st.integers(0, 40),
    margin=st.integers(0, 1000),
    win=agreed,
    draw=agreed,
    longest=st.integers(1, 2000),
    seed=st.integers(0, 10**6),
)


@given(recipes)
def test_a_recipe_is_read_from_its_words(recipe: Recipe) -> None:
    read = Recipe.of_words(recipe.words)
    assert read is not None
    assert read.words == recipe.words
    assert read.plies == recipe.plies


def test_a_limit_in_seconds_is_read() -> None:
    recipe = Recipe(nodes=0, seconds=0.25)
    assert Recipe.of_words(recipe.words) == recipe


@pytest.mark.parametrize("words", ["", "fast", "20,000 nodes a move", Recipe().words + "; and more"])
def test_other_words_are_no_recipe(words: str) -> None:
    assert Recipe.of_words(words) is None
