"""Parts that draw the six couriers of Harbour Relay."""
