"""What a person looks at: proofs drawn from the image, and the report page."""
