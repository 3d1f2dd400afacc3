"""Tests of ``pipeline.bringing``."""
