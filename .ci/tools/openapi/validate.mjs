// Reads an OpenAPI document from standard input and fails, telling why, when it
// is not one.
import { text } from "node:stream/consumers";
import { Validator } from "@seriousme/openapi-schema-validator";

const validator = new Validator();
const result = await validator.validate(JSON.parse(await text(process.stdin)));
if (!result.valid) {
  console.error(JSON.stringify(result.errors, null, 2));
  process.exit(1);
}
console.log(`valid OpenAPI ${validator.version}`);
