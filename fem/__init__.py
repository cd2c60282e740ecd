"""Field, circuit and reports for salvaged shell-type mains transformers with a rewound secondary."""
