// The contract's page; everything it shows comes from this server.
async function show() {
  const spec = await (await fetch("/openapi.json")).json();
  const household = document.body.dataset.household;
  for (const path of Object.values(spec.paths)) {
    for (const operation of Object.values(path)) {
      for (const asked of [...(path.parameters ?? []), ...(operation.parameters ?? [])]) {
        // What may be left out is left out of the form: an example filled in would ask something else than now.
        if (!asked.required) delete asked.example;
        if (household && asked.name === "household") asked.example = household;
      }
    }
  }
  window.ui = SwaggerUIBundle({
    spec,
    dom_id: "#contract",
    deepLinking: true,
    validatorUrl: null,
    defaultModelsExpandDepth: 0,
    docExpansion: "list",
    tryItOutEnabled: true,
  });
}
show();
