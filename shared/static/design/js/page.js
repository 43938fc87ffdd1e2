/* Small behavior every page may need: focus for an error summary, dialogs, busy buttons. */
import { startDialogs } from "./dialog.js";
import { startForms } from "./forms.js";

startForms(document);
startDialogs(document);
