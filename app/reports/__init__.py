"""The record as a PDF, and exports."""
