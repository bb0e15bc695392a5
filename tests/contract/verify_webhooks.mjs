// Verifies what was received with Standard Webhooks' own JavaScript library. Reads a list of {secret, headers, body} from
// standard input; prints for each whether it is genuine, as JSON.
import { createRequire } from "node:module";
import { readFileSync } from "node:fs";

const require = createRequire(`${process.env.NODE_TOOLS}/`);
const { Webhook } = require("standardwebhooks");

const genuine = ({ secret, headers, body }) => {
  try {
    new Webhook(secret).verify(body, headers);
    return true;
  } catch (error) {
    if (error.name === "WebhookVerificationError") return false;
    throw error;
  }
};
console.log(JSON.stringify(JSON.parse(readFileSync(0, "utf8")).map(genuine)));
