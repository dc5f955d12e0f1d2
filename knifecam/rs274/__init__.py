"""The language RS274/NGC, as its standard has it: lines, expressions, modes, arcs, execution.

Facts from T. R. Kramer, F. M. Proctor, E. Messina, "The NIST RS274NGC Interpreter - Version 3",
NISTIR 6556 (2000). What is of the language but not understood here is refused by name.
"""
