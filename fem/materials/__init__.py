"""Steel and conductor metals: sourced tables and the laws the field and the circuit ask of them."""
