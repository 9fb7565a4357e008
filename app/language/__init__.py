"""Words in other languages: our own catalogues, read at start, and the list of all words that there are to say."""

from app.language.sentences import said
from app.language.translator import CatalogueTranslator, PseudoTranslator, chosen_language, install

__all__ = ["CatalogueTranslator", "PseudoTranslator", "chosen_language", "install", "said"]
