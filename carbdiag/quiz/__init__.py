"""Quizzes made from the knowledge: items, blueprint, grading, item analysis, and exports."""
