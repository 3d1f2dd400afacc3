"""What the encoder of English sentences is made of: pieces of words, the network, and German and Spanish words put into English."""

from __future__ import annotations

from pathlib import Path

import numpy as np
import pytest

from pipeline.intake.alike import likeness, sentences
from pipeline.intake.alike.gloss import glossed
from pipeline.intake.alike.lexicon import language_of, spelled_out
from pipeline.intake.alike.likeness import Likeness
from pipeline.intake.alike.named import Names
from pipeline.intake.alike.pieces import numbers


def english():
    found = sentences.encoder()
    return (found and found.english) or pytest.fail("a package is missing: pip install -r requirements.lock")


def test_pieces():
    """Numbers that BERT's uncased vocabulary gives, from memory of its published examples: [CLS] 101, [SEP] 102, hello 7592, world 2088,
    and "embeddings" in the four pieces em ##bed ##ding ##s (McCormick and Ryan, "BERT Word Embeddings Tutorial", 2019).
    """
    assert numbers("Hello, world") == [101, 7592, 1010, 2088, 102]
    assert numbers("embeddings") == [101, 7861, 8270, 4667, 2015, 102]
    assert numbers("Héllo") == numbers("hello")
    assert numbers("") == [101, 102]
    assert numbers("\u4e9c\u0001\u2603 " * 5)[0] == 101
    assert len(numbers("so on " * 5000)) == 256
    assert numbers("x" * 10_000)[-1] == 102


def test_likeness_of_published_sentences():
    """The library's own page on similarity gives for all-MiniLM-L6-v2: 0.6660, 0.1046 and 0.1411 (sbert.net, "Semantic Textual
    Similarity" and quickstart, from memory); weights of 8 bits move that by some hundredths.
    """
    vectors = english()(["The weather is lovely today.", "It's so sunny outside!", "He drove to the stadium."])
    alike = vectors @ vectors.T
    assert np.allclose(np.diag(alike), 1, atol=1e-5)
    assert (alike[0, 1], alike[0, 2], alike[1, 2]) == pytest.approx((0.6660, 0.1046, 0.1411), abs=0.03)


def test_a_text_has_one_vector_whatever_is_beside_it():
    """Texts go through the network together, and must not see each other."""
    texts = [f"{'the lift falls ' * (1 + rank % 7)}{rank}" for rank in range(60)]
    together = english()(texts)
    network = english()._encode
    assert np.allclose(together[[0, 13, 59]], np.concatenate([network([texts[rank]]) for rank in (0, 13, 59)]), atol=1e-5)
    assert together.shape == (60, 384)


def test_the_mean_of_typical_reports_is_theirs():
    folder = Path(likeness.__file__).parent
    texts = (folder / "typical.txt").read_text(encoding="utf-8").splitlines()
    vectors = english()([glossed(spelled_out(text), text)[0] for text in texts])
    assert np.allclose(np.load(folder / "typical_english.npy"), vectors.mean(0), atol=1e-4)


@pytest.mark.parametrize(
    ("text", "language"),
    [
        ("the door does not open", "english"), ("die Tür geht nicht auf", "german"), ("la puerta no se abre", "spanish"),
        ("freeze", "english"), ("", "english"), ("Tür zu", "german"), ("die again and again", "english"),
    ],
)  # fmt: skip
def test_language(text, language):
    """By common words and letters. Common practice, no source."""
    assert language_of(text) == language


def test_words_put_into_english():
    """Word for word, with other endings, and two words in one; what is not known stays; names are as they were."""
    assert glossed("die Tür bleibt offen")[0] == "the door stays open"
    assert glossed("die Kisten und der Schildkäfer, ähm")[0] == "the crates and the shield beetle , ähm"
    assert glossed("la puerta no se abre")[0] == "the door not itself opens"
    assert glossed("the door stays shut") == ("the door stays shut", {})
    assert glossed("Tove stays", like="die Tür ist zu")[0] == "Tove stays"
    assert glossed("Tür offen")[1] == {"door": "Tür", "open": "offen"}


def test_a_report_shows_its_own_words():
    """What was put into English is shown as the report has it."""
    compared = Likeness(["die Laterne flackert", "the lantern flickers in the rain"], encode=sentences.encoder())
    assert compared.words(0, 1, 8) == ["laterne ~ lantern", "flackert ~ flickers"]


def test_without_names():
    names = Names({"Tove": ["hat girl"], "Old Pier": []})
    assert names.without(names.named("Hat girl falls from the old pier")) == "it falls from the it"
    assert Names({}).without("as it was") == "as it was"
