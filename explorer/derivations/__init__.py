"""The derivations behind an answer: equations with their numbers and sources; here what several share."""
