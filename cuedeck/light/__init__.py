"""Light as a camera and an eye take it: stops, lightness, visible steps. Pure; knows no other room."""
