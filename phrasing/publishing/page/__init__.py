"""The pages to listen to and to practise from."""
