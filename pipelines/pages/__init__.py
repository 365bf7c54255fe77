"""One room for each page, and the shell that all of them stand in.

A page may use shell, drawing, words, reading, statistics, definitions; never another page.
Edited by: developer.
"""
