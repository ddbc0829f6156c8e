"""The working behind an answer: equations with their numbers and sources."""
