// Looks that nothing the core says is shown untold: JSX and templates take an object without a word, and would show
// "[object Object]". `npm run check` runs it.
import { readFileSync } from "node:fs";
import ts from "typescript";

const config = ts.parseJsonConfigFileContent(ts.readConfigFile("tsconfig.json", (file) => readFileSync(file, "utf8")).config, ts.sys, ".");
const program = ts.createProgram(config.fileNames, config.options);
const checker = program.getTypeChecker();
const isTold = (type) => (type.isUnion() ? type.types : [type]).some((one) => one.aliasSymbol?.name === "Told");

let looked = 0;
const wrong = [];
for (const file of program.getSourceFiles().filter((one) => one.fileName.includes("/phone/src/"))) {
  const look = (node) => {
    const shown = ts.isTemplateSpan(node) || (ts.isJsxExpression(node) && !ts.isJsxAttribute(node.parent)) ? node.expression
      : ts.isCallExpression(node) && ts.isPropertyAccessExpression(node.expression) && node.expression.name.text === "join" ? node.expression.expression : undefined;
    if (shown) {
      looked += 1;
      const type = checker.getTypeAtLocation(shown);
      const each = checker.getIndexTypeOfType(type, ts.IndexKind.Number);
      if (isTold(type) || (each && isTold(each))) wrong.push(`${file.fileName}:${file.getLineAndCharacterOfPosition(shown.getStart()).line + 1}: ${shown.getText()}`);
    }
    ts.forEachChild(node, look);
  };
  look(file);
}
if (looked < 100) throw new Error(`only ${looked} places were looked at`);
if (wrong.length > 0) {
  console.error(`shown untold; write told(…):\n${wrong.join("\n")}`);
  process.exit(1);
}
