"""The sections of a packet, each a function from a draft to what is set; drawn pads among them."""
