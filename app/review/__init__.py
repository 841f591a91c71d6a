"""What the quality team computes from many checks: charts, intervals, estimates, and the study of checking.

Statistics, and so floating numbers where they are drawn or said; what decides is whole numbers and fractions.
"""
