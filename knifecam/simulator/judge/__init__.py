"""Judgements: one module for each family of findings, each with `find(case)`."""
