import type { Role } from "@tailcomb/web/types";
import { t } from "../words/index.ts";

const roles: Role[] = ["stylist", "trainer", "associate"];
export const roleChoices = () => roles.map((role) => ({ value: role, text: t(`role.${role}`) }));
