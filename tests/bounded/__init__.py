"""Boards that are small to write and large to judge, and the work that they may take."""
