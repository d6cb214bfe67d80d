"""Mutation check, run by hand: how many small faults put into the code do the tests notice?"""
