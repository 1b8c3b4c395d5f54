"""The door to terms: the shapes, and how they are read from YAML text, from shipped files and from a shop's records."""

from warranty.coverage.reading import component_lists, load_terms, parse_terms, term_from_dict
from warranty.coverage.shapes import Source, Term, term_to_dict

__all__ = ["Source", "Term", "component_lists", "load_terms", "parse_terms", "term_from_dict", "term_to_dict"]
