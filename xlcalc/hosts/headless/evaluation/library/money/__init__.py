"""Interest, payments and depreciation."""
