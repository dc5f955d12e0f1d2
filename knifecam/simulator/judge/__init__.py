"""Judgements."""
