// The contract's page; everything it shows comes from this server.
window.ui = SwaggerUIBundle({
  url: "/openapi.json",
  dom_id: "#contract",
  deepLinking: true,
  validatorUrl: null,
  defaultModelsExpandDepth: 0,
  docExpansion: "list",
  tryItOutEnabled: true,
});
